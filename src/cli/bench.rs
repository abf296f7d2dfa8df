//! `bench`: the page that guides the hand, in a browser of this computer or of the shop.

use super::capture::ctrl_c;
use super::{Out, Status};
use crate::error::Result;
use crate::page::{Limits, PageSettings, Token, serve};
use clap::Args;
use serde_json::json;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;

/// Guide an inspection in a browser: from the tool card to the printed report
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear bench                              work in the folder `bench`, open what it prints
  heelclear bench shop/regrinds                work in this folder
  heelclear bench --port 8080                  listen on another port
  heelclear bench --address 192.168.1.20       let a tablet of the shop open it

The address that it prints has a token in it: only a browser that has opened this address leads the
bench. The folder has `tools` and `gauges` for cards, and a folder for each inspection. Nothing is installed
and nothing is looked up: all of the page is in the program. Try it with the simulated gauge, which
the page offers. Ctrl-C ends it; what was read is whole on disk.")]
pub(super) struct Arguments {
    /// The folder to work in; it is made where it is absent
    #[arg(value_name = "DIR", default_value = "bench")]
    folder: PathBuf,

    /// The port to listen on; 0 takes a free one
    #[arg(long, default_value_t = 7180)]
    port: u16,

    /// The address to listen on: other computers can reach any but 127.0.0.1
    #[arg(long, default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST), value_name = "ADDRESS")]
    address: IpAddr,

    /// What a browser has to show once [default: that of HEELCLEAR_TOKEN, else drawn at each start]
    #[arg(long)]
    token: Option<String>,

    /// The archive that judged inspections are kept in [default: the one in your data folder]
    #[arg(long, value_name = "PLACE")]
    archive: Option<String>,
}

/// Names a token that is seen by nobody else: a command line is read by everybody on the computer.
const TOKEN_VARIABLE: &str = "HEELCLEAR_TOKEN";

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let wide = !arguments.address.is_loopback();
    let token = token(arguments.token.as_deref(), out)?;
    let settings = PageSettings {
        address: SocketAddr::new(arguments.address, arguments.port),
        token: token.clone(),
        folder: arguments.folder.clone(),
        archive: super::archive::place(arguments.archive.as_deref())?,
        limits: Limits::default(),
    };
    if wide {
        out.note(
            "Other computers of this network can reach the page. Whoever has the token can lead the \
             capture and see the reports; what goes over the network is not encrypted. Use it in a \
             network that you trust.",
        );
    }
    let folder = arguments.folder.display().to_string();
    let mut told = Ok(());
    let ready = |address: SocketAddr| {
        let page = format!("http://{}/?token={}", shown(address), token.secret());
        told = if out.json() {
            out.object(&json!({ "page": page, "folder": folder }))
        } else {
            out.line(&page)
        };
        out.note(&format!(
            "open this address in a browser, and show it to nobody who is not to lead the bench; it works \
             in the folder {folder}. Ctrl-C ends it"
        ));
    };
    serve(&settings, ready, ctrl_c())?;
    told?;
    Ok(Status::Clear)
}

/// An address that can be opened: one that means every address is reached by any of them.
fn shown(address: SocketAddr) -> SocketAddr {
    match address.ip() {
        ip if ip.is_unspecified() => SocketAddr::new(own_address().unwrap_or(ip), address.port()),
        _ => address,
    }
}

/// The address by which other computers of the network know this one. Nothing is sent for it.
fn own_address() -> Option<IpAddr> {
    let socket = std::net::UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    // An address kept for documentation (RFC 5737): it only chooses the way out.
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    Some(socket.local_addr().ok()?.ip())
}

/// The token that a person gave, or one that is drawn.
fn token(given: Option<&str>, out: &mut Out) -> Result<Token> {
    if let Some(given) = given {
        let token = Token::given(given)?;
        out.note(&format!(
            "whoever works on this computer can read `--token` in its list of processes; {TOKEN_VARIABLE} \
             gives a token that stays out of it"
        ));
        return Ok(token);
    }
    match std::env::var_os(TOKEN_VARIABLE) {
        Some(given) => {
            let text = given.to_str().unwrap_or_default();
            Token::given(text).map_err(|error| error.in_file(TOKEN_VARIABLE))
        }
        None => Token::drawn(),
    }
}
