//! `ports`: the serial ports of this computer.

use super::{Out, Status};
use crate::error::Result;
use crate::gauge::serial::{self, Listed, Usb};
use clap::Args;
use serde_json::json;

/// List the serial ports of this computer
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear ports                      what can be opened, USB devices first
  heelclear ports --json               one port a line, for scripts

A pseudo-terminal is not listed, but its path can be given to `capture` all the same.")]
pub(super) struct Arguments {}

pub(super) fn run(_: &Arguments, out: &mut Out) -> Result<Status> {
    let ports = serial::list()?;
    for port in &ports {
        if out.json() {
            out.object(&object(port))?;
        } else {
            out.line(&line(port))?;
        }
    }
    if ports.is_empty() && !out.json() {
        out.note("no serial port found; plug the bridge or the instrument in");
    }
    Ok(Status::Clear)
}

fn object(port: &Listed) -> serde_json::Value {
    let usb = port.usb.as_ref().map(|usb| {
        json!({
            "vendor": format!("{:04x}", usb.vendor),
            "product": format!("{:04x}", usb.product),
            "serial_number": usb.serial_number,
            "name": usb.name,
        })
    });
    json!({ "port": port.name, "usb": usb })
}

fn line(port: &Listed) -> String {
    match &port.usb {
        Some(usb) => format!("{:24}{}", port.name, described(usb)),
        None => port.name.clone(),
    }
}

fn described(usb: &Usb) -> String {
    let mut text = usb.name.clone().unwrap_or_else(|| "USB device".to_owned());
    text += &format!(" ({:04x}:{:04x}", usb.vendor, usb.product);
    if let Some(number) = &usb.serial_number {
        text += &format!(", {number}");
    }
    text + ")"
}
