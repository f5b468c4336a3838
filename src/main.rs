//! The `slipbook` program.

fn main() -> std::process::ExitCode {
    slipbook::cli::main()
}
