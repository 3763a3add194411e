//! The one binary: hands its arguments to [`bellwether::cli`].

fn main() -> std::process::ExitCode {
    bellwether::cli::run(std::env::args_os())
}
