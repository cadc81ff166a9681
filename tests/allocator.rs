//! The program hands out memory as it is meant to, however it was built.

use crate::support::Desk;

/// jemalloc reports on standard error what it was set to, and by what, where `confirm_conf` asks for it (its manual, TUNING).
#[test]
fn the_allocators_settings_are_in_the_program() {
    let desk = Desk::new();
    let asked = [("_RJEM_MALLOC_CONF", "confirm_conf:true")];
    let answer = desk.run_in(&desk.path(""), &asked, &["--version"]);
    answer.assert_done();
    let own = answer
        .err
        .split("the global variable malloc_conf")
        .nth(1)
        .unwrap_or_default();
    for setting in [
        "thp:always",
        "narenas:1",
        "oversize_threshold:0",
        "dirty_decay_ms:30000",
    ] {
        assert!(
            own.contains(&format!("Set conf value: {setting}")),
            "{setting}: {}",
            answer.err
        );
    }
}
