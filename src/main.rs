//! The program: see `tempwright::cli`.

/// A sheet and a check make very many small things: a fifth of their time went into the usual one.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> std::process::ExitCode {
    tempwright::cli::main()
}
