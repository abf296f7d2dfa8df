//! The ports of this computer, and what stands in the way of each.

use super::{Check, What};
use crate::error::Code;
use crate::gauge::serial::{self, Listed};
use crate::gauge::serial_access::holders;
use crate::inspection::capture::{Heard, Step};

/// So many ports are named; a computer with more is a server.
const NAMED: usize = 8;

/// The ports there are, where none was named: nothing is opened.
pub(super) fn seen() -> Check {
    let ports = match serial::list() {
        Ok(ports) => ports,
        Err(error) => return Check::fault(What::Ports, &error),
    };
    if ports.is_empty() {
        return Check::mend(
            What::Ports,
            "no serial port is there",
            "plug the bridge or the instrument in, and look again",
        )
        .with("seen", 0.0);
    }
    let count = ports.len() as f64;
    let refused: Vec<_> = (ports.iter())
        .filter_map(|port| serial::in_the_way(&port.name))
        .collect();
    let names: Vec<String> = ports.iter().take(NAMED).map(described).collect();
    let more = ports.len().saturating_sub(NAMED);
    let mut found = names.join(", ");
    if more > 0 {
        found += &format!(" and {more} more");
    }
    // Where any can be opened, the others may well be somebody else's.
    if refused.len() < ports.len() {
        for error in &refused {
            let port = error.place().file.as_deref().unwrap_or_default();
            found += &match error.code() {
                Code::PortBusy => format!("; {port} is in use"),
                _ => format!("; {port} may not be opened by this user"),
            };
        }
        return Check::fine(What::Ports, found).with("seen", count);
    }
    match refused.first() {
        Some(error) => Check::fault(What::Ports, error).with("seen", count),
        None => Check::fine(What::Ports, found).with("seen", count),
    }
}

fn described(port: &Listed) -> String {
    let usb = port.usb.as_ref().and_then(|usb| usb.name.as_deref());
    match usb {
        Some(name) => format!("{} ({name})", port.name),
        None => port.name.clone(),
    }
}

/// The ports that were named, once they were tried.
pub(super) fn opened(are_ports: bool, heard: &Heard) -> Check {
    if let Some((Step::Open, error)) = &heard.fault {
        return Check::fault(What::Ports, error);
    }
    if !are_ports {
        return Check::fine(What::Ports, "a simulated gauge in this program");
    }
    let ports: Vec<&str> = heard.ports.iter().map(String::as_str).collect();
    // Another program that opened it before, and not for itself alone, takes bytes away.
    // What serves a pseudo-terminal may keep its near end open, and reads nothing from it.
    let real = ports.iter().filter(|port| !port.starts_with("/dev/pts/"));
    for port in real {
        let others: Vec<String> = holders(port).iter().map(ToString::to_string).collect();
        if !others.is_empty() {
            return Check {
                code: Some(Code::PortBusy),
                ..Check::mend(
                    What::Ports,
                    format!(
                        "{port} opens, but has been opened by {} too",
                        others.join(", ")
                    ),
                    "close that program: what it reads never comes here",
                )
            };
        }
    }
    let verb = if ports.len() == 1 { "opens" } else { "open" };
    Check::fine(What::Ports, format!("{} {verb}", ports.join(" and ")))
}
