//! The program `restward-engrave`.

fn main() {
    let toolkit = verovio::Toolkit::new();
    eprintln!("{}", toolkit.version());
}
