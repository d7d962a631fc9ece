//! The `scantling` program: everything is in the library.

fn main() -> std::process::ExitCode {
    scantling::cli::main()
}
