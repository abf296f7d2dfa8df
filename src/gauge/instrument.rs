//! What a real port and a simulated gauge have in common.

use crate::error::Result;
use std::io;

/// A device that can be opened, and found again after it went away.
pub trait Instrument: Send {
    /// What a person calls it: the port's name.
    fn name(&self) -> String;

    /// Opens it. Opening may reset a controller, so it is done once.
    fn open(&mut self) -> Result<Box<dyn Port>>;

    /// Looks whether it is back, perhaps under another name; `None` while it is not.
    fn find_again(&mut self) -> Option<Box<dyn Port>>;
}

/// An open port. A read waits a short time at most, and says `TimedOut` when nothing came; any
/// other fault than `Interrupted`, and the end of the stream, mean that the device is gone.
pub trait Port: Send {
    /// Reads what is there.
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize>;

    /// Sends all of these bytes.
    fn write_all(&mut self, bytes: &[u8]) -> io::Result<()>;
}
