//! The `sprag` command.

fn main() -> std::process::ExitCode {
    sprag::cli::run()
}
