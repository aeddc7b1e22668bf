//! How much memory something takes: in a process of its own, because tests run side by side.

use std::process::Command;

/// Set in the process of its own.
const ALONE: &str = "RESTWARD_TEST_ALONE";

/// Runs `test` in a process of its own: `name` is the calling test with its module.
pub(crate) fn alone(name: &str, test: impl FnOnce()) {
    if std::env::var_os(ALONE).is_some() {
        return test();
    }
    let this = std::env::current_exe().unwrap();
    let ran = Command::new(this).args(["--exact", name, "--nocapture"]).env(ALONE, "1").output().unwrap();
    let said = String::from_utf8_lossy(&ran.stdout);
    assert!(ran.status.success() && said.contains("1 passed"), "{said}{}", String::from_utf8_lossy(&ran.stderr));
    said.lines().filter(|line| line.contains("MB")).for_each(|line| eprintln!("{line}"));
}

/// The most that this process has had in memory, in megabytes: `VmHWM` of Linux (proc_pid_status(5)); elsewhere nothing is
/// measured.
pub(crate) fn most_megabytes() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.split_whitespace().next()).map_or(0, |kilobytes| kilobytes.parse::<u64>().unwrap() / 1024)
}
