//! A real serial port: opened with an error that tells the cause, found again by what it is.

use super::instrument::{Instrument, Port};
use super::serial_access;
use crate::error::{Code, Error, Result};
use serialport::{ErrorKind, SerialPort, SerialPortType};
use std::io::{self, Read, Write};
use std::time::Duration;

/// How long a read waits. Short, since commands are only written between reads.
const WAIT: Duration = Duration::from_millis(20);

/// A port of this computer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// The name to open it by.
    pub name: String,
    /// What is plugged in, where it says so.
    pub usb: Option<Usb>,
}

/// What a USB device says of itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Usb {
    /// Its vendor's number.
    pub vendor: u16,
    /// Its product's number.
    pub product: u16,
    /// Its own number, where it has one.
    pub serial_number: Option<String>,
    /// Its name, where it has one.
    pub name: Option<String>,
}

impl Usb {
    /// Whether this can be the same device, back again. Names may change with a driver.
    fn is(&self, other: &Usb) -> bool {
        (self.vendor, self.product, &self.serial_number)
            == (other.vendor, other.product, &other.serial_number)
    }
}

/// The serial ports of this computer, USB devices first, then by name.
pub fn list() -> Result<Vec<Listed>> {
    let ports = serialport::available_ports().map_err(|fault| {
        Error::new(Code::Disk, format!("cannot list the serial ports: {fault}")).because(fault)
    })?;
    let mut listed: Vec<Listed> = ports
        .into_iter()
        .map(|port| Listed {
            name: port.port_name,
            usb: match port.port_type {
                SerialPortType::UsbPort(usb) => Some(Usb {
                    vendor: usb.vid,
                    product: usb.pid,
                    serial_number: usb.serial_number,
                    name: usb.product,
                }),
                _ => None,
            },
        })
        .collect();
    listed.sort_by(|a, b| (a.usb.is_none(), &a.name).cmp(&(b.usb.is_none(), &b.name)));
    Ok(listed)
}

/// A serial port by its name or path.
#[derive(Clone, Debug)]
pub struct SerialInstrument {
    path: String,
    baud: u32,
    usb: Option<Usb>,
}

impl SerialInstrument {
    /// The port with this name; nothing is opened yet.
    pub fn new(path: impl Into<String>, baud: u32) -> Self {
        Self {
            path: path.into(),
            baud,
            usb: None,
        }
    }

    fn connect(&self) -> std::result::Result<Box<dyn Port>, serialport::Error> {
        let mut port = serialport::new(&self.path, self.baud)
            .timeout(WAIT)
            .open()?;
        // Many controllers only send while this line is up. A pseudo-terminal has none: no fault.
        let _ = port.write_data_terminal_ready(true);
        Ok(Box::new(Open(port)))
    }

    fn refusal(&self, fault: serialport::Error) -> Error {
        let port = &self.path;
        let exists = std::path::Path::new(port).exists()
            || list().is_ok_and(|all| all.iter().any(|listed| listed.name == *port));
        let error = match fault.kind() {
            ErrorKind::Io(io::ErrorKind::PermissionDenied) if cfg!(unix) => forbidden(port),
            // Elsewhere a port in use is reported as a refused access.
            ErrorKind::Io(io::ErrorKind::PermissionDenied) => busy(port),
            ErrorKind::NoDevice if exists => busy(port),
            _ if !exists => Error::new(Code::PortAbsent, "there is no such port")
                .help("plug the device in; `heelclear ports` lists the ports there are"),
            _ => Error::new(
                Code::Protocol,
                format!("cannot be opened as a serial port: {fault}"),
            )
            .help("`heelclear ports` lists the ports there are"),
        };
        error.in_file(port).because(fault)
    }
}

/// What stands in the way of a port, found without opening it; nothing where nothing is seen to.
/// Opening may reset the controller behind it, and only a port that was named is worth that.
pub fn in_the_way(port: &str) -> Option<Error> {
    let error = match (serial_access::way_in(port), serial_access::holders(port)) {
        (Some(_), _) => forbidden(port),
        (None, holders) if !holders.is_empty() => busy(port),
        _ => return None,
    };
    Some(error.in_file(port))
}

fn forbidden(port: &str) -> Error {
    let help = serial_access::way_in(port);
    let help = help.unwrap_or_else(|| {
        "join the group that owns the port (often `dialout`), then log out and in again".to_owned()
    });
    Error::new(Code::PortForbidden, "this user may not open the port").help(help)
}

fn busy(port: &str) -> Error {
    let message = "the port is in use by another program";
    let holders = serial_access::holders(port);
    let named: Vec<String> = holders.iter().map(ToString::to_string).collect();
    match named.as_slice() {
        [] => Error::new(Code::PortBusy, message)
            .help("close the other program, a serial monitor perhaps, and start again"),
        named => Error::new(Code::PortBusy, format!("{message}: {}", named.join(", ")))
            .help("close that program, and start again"),
    }
}

impl Instrument for SerialInstrument {
    fn name(&self) -> String {
        self.path.clone()
    }

    fn open(&mut self) -> Result<Box<dyn Port>> {
        let ports = list().unwrap_or_default();
        let listed = ports.into_iter().find(|listed| listed.name == self.path);
        self.usb = listed.and_then(|listed| listed.usb);
        self.connect().map_err(|fault| self.refusal(fault))
    }

    fn find_again(&mut self) -> Option<Box<dyn Port>> {
        // It comes back under another name while the old one may belong to something else, so a
        // USB device is known by its numbers. What has none can only come back where it was.
        if let Some(usb) = &self.usb {
            let ports = list().ok()?;
            let same = |listed: &&Listed| listed.usb.as_ref().is_some_and(|other| usb.is(other));
            self.path = ports.iter().find(same)?.name.clone();
        }
        self.connect().ok()
    }
}

struct Open(Box<dyn SerialPort>);

impl Port for Open {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.0.read(buffer)
    }

    fn write_all(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0.write_all(bytes)?;
        self.0.flush()
    }
}
