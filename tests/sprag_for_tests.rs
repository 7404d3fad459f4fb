//! The `sprag` command again, for tests.

fn main() -> std::process::ExitCode {
    sprag::cli::run()
}
