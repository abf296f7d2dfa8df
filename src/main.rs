//! The program: hands the command line to the library and exits with its status.

use std::process::ExitCode;

fn main() -> ExitCode {
    heelclear::cli::run(std::env::args_os())
}
