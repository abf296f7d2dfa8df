//! `bench`: the page that guides the hand, in a browser of this computer or of the shop.

use super::capture::ctrl_c;
use super::{Out, Status};
use crate::error::{Code, Error, Result};
use crate::page::{PageSettings, serve};
use clap::Args;
use rand::TryRngCore;
use rand::rngs::OsRng;
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
  heelclear bench --address 192.168.1.20       let a tablet of the shop open it, with a token

The folder has `tools` and `gauges` for cards, and a folder for each inspection. Nothing is installed
and nothing is looked up: all of the page is in the program. Try it with the simulated gauge, which
the page offers. Ctrl-C ends it; what was read is whole on disk.")]
pub(super) struct Arguments {
    /// The folder to work in; it is made where it is absent
    #[arg(value_name = "DIR", default_value = "bench")]
    folder: PathBuf,

    /// The port to listen on; 0 takes a free one
    #[arg(long, default_value_t = 7180)]
    port: u16,

    /// The address to listen on: other computers can reach any but 127.0.0.1, and need a token then
    #[arg(long, default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST), value_name = "ADDRESS")]
    address: IpAddr,

    /// What a browser has to show once [default: none on this computer alone, else made up]
    #[arg(long)]
    token: Option<String>,

    /// The archive that judged inspections are kept in [default: the one in your data folder]
    #[arg(long, value_name = "PLACE")]
    archive: Option<String>,
}

/// Digits of a token that was made up: as many as nobody guesses.
const TOKEN_DIGITS: usize = 24;

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    let wide = !arguments.address.is_loopback();
    let token = match &arguments.token {
        Some(token) => Some(checked(token)?),
        None if wide => Some(made_up()?),
        None => None,
    };
    let settings = PageSettings {
        address: SocketAddr::new(arguments.address, arguments.port),
        token: token.clone(),
        folder: arguments.folder.clone(),
        archive: super::archive::place(arguments.archive.as_deref())?,
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
        let page = match &token {
            Some(token) => format!("http://{}/?token={token}", shown(address)),
            None => format!("http://{}/", shown(address)),
        };
        told = if out.json() {
            out.object(&json!({ "page": page, "folder": folder }))
        } else {
            out.line(&page)
        };
        out.note(&format!(
            "open this address in a browser; it works in the folder {folder}. Ctrl-C ends it"
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

fn made_up() -> Result<String> {
    const DIGITS: &[u8; 32] = b"abcdefghijkmnpqrstuvwxyz23456789";
    let mut bytes = [0; TOKEN_DIGITS];
    OsRng.try_fill_bytes(&mut bytes).map_err(|fault| {
        Error::internal("no random numbers can be had", fault)
            .help("give a token of your own with `--token`")
    })?;
    let digits = bytes.iter().map(|byte| DIGITS[usize::from(byte % 32)]);
    Ok(digits.map(char::from).collect())
}

/// A token stands in an address and in a cookie as it is.
fn checked(token: &str) -> Result<String> {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_".contains(c);
    if (8..=200).contains(&token.len()) && token.chars().all(plain) {
        return Ok(token.to_owned());
    }
    Err(Error::new(
        Code::Usage,
        "read a token that cannot be used, expected 8 to 200 letters, digits, `-` or `_`",
    ))
}
