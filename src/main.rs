//! The program: see `tempwright::cli`.

fn main() -> std::process::ExitCode {
    tempwright::cli::main()
}
