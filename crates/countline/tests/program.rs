//! The program as cargo has built it. What it does is tested in the project's `tests`; this is why cargo builds it beside them.

use std::process::Command;

#[test]
fn it_tells_its_version() {
    let output = Command::new(env!("CARGO_BIN_EXE_countline")).arg("--version").output().expect("it runs");
    let told = String::from_utf8(output.stdout).expect("UTF-8");
    assert_eq!(told.trim(), concat!("countline ", env!("CARGO_PKG_VERSION")));
}
