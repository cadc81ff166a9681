//! On Linux, links the settings of the memory allocator into the program: a library of C reads them from a variable of its own,
//! before any Rust runs. Settings in the environment of a build would be lost where the packed crate is installed.

fn main() {
    println!("cargo::rerun-if-changed=src/allocator/settings.c");
    println!("cargo::rerun-if-changed=src/allocator/build.rs");
    // The library alone leaves the allocator to the program that it is part of.
    #[cfg(feature = "cli")]
    if std::env::var("CARGO_CFG_TARGET_OS").is_ok_and(|system| system == "linux") {
        for object in cc::Build::new()
            .file("src/allocator/settings.c")
            .compile_intermediates()
        {
            println!("cargo::rustc-link-arg-bins={}", object.display());
        }
    }
}
