//! The program `restward`. Everything is in the library, so that tests reach it.

fn main() -> std::process::ExitCode {
    restward::cli::run()
}
