//! The bytes between this program and a server: when the last of them came, and that no message is
//! longer than anything kept. A server is given up for its silence, not for its work.

use super::packed::LONGEST;
use std::io;
use std::net::SocketAddr;
#[cfg(unix)]
use std::path::PathBuf;
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll, ready};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt, ReadBuf};
use tokio::net::TcpStream;
#[cfg(unix)]
use tokio::net::UnixStream;
use tokio::time::{Instant, sleep_until, timeout_at};

/// A server that says nothing for so long is given up, unless it is known to live.
pub(super) const SILENCE: Duration = Duration::from_secs(10);
/// One that says nothing for so long is asked whether it lives.
const ASKED_AFTER: Duration = Duration::from_secs(5);
/// One that lives has so long for a question.
pub(super) const FOR_A_QUESTION: Duration = Duration::from_secs(60);
/// And so long for work on the tables themselves.
pub(super) const FOR_THE_TABLES: Duration = Duration::from_secs(3600);

/// A message is no longer than the longest file, and what stands about it.
const LONGEST_MESSAGE: u64 = LONGEST + 1024 * 1024;

/// All that a server says of its own settings: some twenty of a few words each, and those that a
/// shop's changes set anew.
const LONGEST_SETTINGS: u64 = 1024 * 1024;

/// What any connection to a server is.
trait Stream: AsyncRead + AsyncWrite + Unpin + Send {}
impl<T: AsyncRead + AsyncWrite + Unpin + Send> Stream for T {}

/// When bytes last went either way.
#[derive(Clone)]
pub(super) struct Pulse(Arc<Mutex<Instant>>);

impl Pulse {
    pub(super) fn new() -> Self {
        Self(Arc::new(Mutex::new(Instant::now())))
    }

    /// From now on is waited.
    pub(super) fn beat(&self) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Instant::now();
    }

    fn last(&self) -> Instant {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Ends when nothing has come for so long.
    pub(super) async fn stands_for(&self, long: Duration) {
        loop {
            let last = self.last();
            sleep_until(last + long).await;
            if self.last() == last {
                return;
            }
        }
    }

    /// Ends when nothing has come for so long that the server is to be given up: it does not say
    /// that it lives, or it was given as long as `most`. Says how long that was, and whether it lives.
    pub(super) async fn gives_up(&self, peer: &Peer, most: Duration) -> GaveUp {
        let mut asked = ASKED_AFTER;
        loop {
            let last = self.last();
            sleep_until(last + asked).await;
            if self.last() != last {
                asked = ASKED_AFTER;
                continue;
            }
            let until = last + asked + (SILENCE - ASKED_AFTER);
            let lives = timeout_at(until, peer.lives()).await.unwrap_or(false);
            if !lives {
                sleep_until(until).await;
            }
            if self.last() != last {
                asked = ASKED_AFTER;
                continue;
            }
            let waited = last.elapsed();
            if !lives || waited >= most {
                return GaveUp { waited, lives };
            }
            asked = (waited + ASKED_AFTER).min(most);
        }
    }
}

/// How a server was given up.
#[derive(Clone, Copy, Debug)]
pub(super) struct GaveUp {
    pub waited: Duration,
    /// Whether it answers others.
    pub lives: bool,
}

/// Where a server was found.
#[derive(Clone, Debug)]
pub(super) enum Peer {
    Tcp(SocketAddr),
    #[cfg(unix)]
    Unix(PathBuf),
}

impl Peer {
    async fn open(&self) -> io::Result<Box<dyn Stream>> {
        match self {
            Peer::Tcp(address) => {
                let stream = TcpStream::connect(address).await?;
                stream.set_nodelay(true)?;
                Ok(Box::new(stream))
            }
            #[cfg(unix)]
            Peer::Unix(path) => Ok(Box::new(UnixStream::connect(path).await?)),
        }
    }

    /// Connects to it.
    pub(super) async fn wire(&self, pulse: &Pulse) -> io::Result<Wire> {
        Ok(Wire {
            stream: self.open().await?,
            pulse: pulse.clone(),
            bounds: Bounds::default(),
        })
    }

    /// Whether it answers anybody at all: it is asked whether it would encrypt, which it says in a
    /// letter, without a user and a password.
    async fn lives(&self) -> bool {
        const WOULD_IT_ENCRYPT: [u8; 8] = [0, 0, 0, 8, 0x04, 0xd2, 0x16, 0x2f];
        let asked = async {
            let mut stream = self.open().await?;
            stream.write_all(&WOULD_IT_ENCRYPT).await?;
            stream.read_u8().await
        };
        asked.await.is_ok_and(|said: u8| b"NSE".contains(&said))
    }
}

/// A connection that feels the pulse.
pub(super) struct Wire {
    stream: Box<dyn Stream>,
    pulse: Pulse,
    bounds: Bounds,
}

impl AsyncRead for Wire {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let before = buffer.filled().len();
        ready!(Pin::new(&mut self.stream).poll_read(cx, buffer))?;
        let came = buffer.filled().get(before..).unwrap_or_default();
        if !came.is_empty() {
            self.pulse.beat();
        }
        Poll::Ready(self.bounds.pass(came))
    }
}

impl AsyncWrite for Wire {
    fn poll_write(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let went = ready!(Pin::new(&mut self.stream).poll_write(cx, bytes))?;
        if went > 0 {
            self.pulse.beat();
        }
        Poll::Ready(Ok(went))
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

/// Where one message of the server ends and the next begins: a letter, a length in four bytes that
/// counts itself, and as much as it says.
#[derive(Default)]
struct Bounds {
    head: [u8; 5],
    known: usize,
    /// Bytes of the message that are still to come.
    left: u64,
    /// Bytes of settings that came so far: whoever hears them keeps them.
    settings: u64,
}

impl Bounds {
    fn pass(&mut self, mut bytes: &[u8]) -> io::Result<()> {
        while !bytes.is_empty() {
            if self.left > 0 {
                let inside = self.left.min(bytes.len() as u64);
                self.left -= inside;
                bytes = bytes.get(inside as usize..).unwrap_or_default();
                continue;
            }
            let Some((byte, rest)) = bytes.split_first() else {
                break;
            };
            bytes = rest;
            if let Some(place) = self.head.get_mut(self.known) {
                *place = *byte;
            }
            self.known += 1;
            if self.known == self.head.len() {
                let [letter, length @ ..] = self.head;
                let length = u64::from(u32::from_be_bytes(length));
                if !(4..=LONGEST_MESSAGE).contains(&length) {
                    let said =
                        format!("a message of {length} bytes, longer than any that it sends");
                    return Err(io::Error::new(io::ErrorKind::InvalidData, said));
                }
                (self.known, self.left) = (0, length - 4);
                if letter == b'S' {
                    self.settings += length;
                }
                if self.settings > LONGEST_SETTINGS {
                    let said = "more settings of its own than any server has";
                    return Err(io::Error::new(io::ErrorKind::InvalidData, said));
                }
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_server_that_tells_of_its_settings_without_end_is_given_up() {
        let mut one = vec![b'S', 0, 0, 0, 104];
        one.extend([b'x'; 100]);
        let mut bounds = Bounds::default();
        let heard = (0..100_000).take_while(|_| bounds.pass(&one).is_ok());
        let heard = heard.count() as u64;
        assert_eq!(heard, LONGEST_SETTINGS / 104);
        // Rows are as many as there are.
        let mut bounds = Bounds::default();
        one[0] = b'D';
        assert!((0..100_000).all(|_| bounds.pass(&one).is_ok()));
    }

    #[test]
    fn a_message_that_is_longer_than_any_is_refused_however_it_is_cut() {
        let mut said = vec![b'Z', 0, 0, 0, 5, b'I'];
        said.extend([b'1', 0, 0, 0, 4]);
        let whole = said.len();
        said.extend([b'D', 0x7f, 0xff, 0xff, 0xff]);
        for cut in 1..said.len() {
            let mut bounds = Bounds::default();
            let passed: Vec<bool> = said
                .chunks(cut)
                .map(|piece| bounds.pass(piece).is_ok())
                .collect();
            assert!(passed.contains(&false), "{cut}");
            let mut bounds = Bounds::default();
            for piece in said[..whole].chunks(cut) {
                bounds.pass(piece).unwrap();
            }
        }
        assert!(Bounds::default().pass(&[b'D', 0, 0, 0, 3]).is_err());
    }
}
