//! A bench to open pages of: served from this process, on a free port, in a folder of its own.

use heelclear::page::{PageSettings, serve};
use heelclear::record::archive::Place;
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::{Path, PathBuf};
use std::sync::mpsc;
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::sync::oneshot;

/// A bench while it is served.
pub struct Bench {
    pub address: SocketAddr,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

/// How it is served.
pub struct Served<'a> {
    pub folder: &'a Path,
    pub port: u16,
    pub token: Option<&'a str>,
}

impl Bench {
    /// Serves this folder on a free port.
    pub fn open(folder: &Path) -> Self {
        Self::with(Served {
            folder,
            port: 0,
            token: None,
        })
    }

    pub fn with(served: Served<'_>) -> Self {
        let archive = Place::File(served.folder.join("archive.db"));
        Self::on(served, archive)
    }

    /// Serves with the archive in another place.
    pub fn on(served: Served<'_>, archive: Place) -> Self {
        let settings = PageSettings {
            address: SocketAddr::from(([127, 0, 0, 1], served.port)),
            token: served.token.map(str::to_owned),
            folder: served.folder.to_owned(),
            archive,
        };
        let (stop, stopped) = oneshot::channel::<()>();
        let (tell, told) = mpsc::channel();
        let thread = std::thread::spawn(move || {
            let ready = |address| tell.send(address).unwrap();
            serve(&settings, ready, async {
                let _ = stopped.await;
            })
            .unwrap();
        });
        Self {
            address: told.recv_timeout(Duration::from_secs(20)).unwrap(),
            stop: Some(stop),
            thread: Some(thread),
        }
    }

    pub fn url(&self) -> String {
        format!("http://{}/", self.address)
    }

    /// Sends a request as it stands and gives the status and the whole answer.
    pub fn raw(&self, request: &[u8]) -> (u16, String) {
        let mut stream = TcpStream::connect(self.address).unwrap();
        stream
            .set_read_timeout(Some(Duration::from_secs(10)))
            .unwrap();
        // A server that hangs up on a bad request may do so before all of it is written.
        let _ = stream.write_all(request);
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        let answer = String::from_utf8_lossy(&answer).into_owned();
        let status = answer.split(' ').nth(1).and_then(|code| code.parse().ok());
        (status.unwrap_or(0), answer)
    }

    /// Asks for a path with these headers, as this host.
    pub fn ask(&self, method: &str, path: &str, headers: &[&str], body: &str) -> (u16, String) {
        let host = format!("Host: {}", self.address);
        let named = headers
            .iter()
            .any(|header| header.to_lowercase().starts_with("host:"));
        let mut request = format!("{method} {path} HTTP/1.1\r\n");
        for header in headers
            .iter()
            .copied()
            .chain((!named).then_some(host.as_str()))
        {
            request += &format!("{header}\r\n");
        }
        request += &format!(
            "Content-Length: {}\r\nConnection: close\r\n\r\n{body}",
            body.len()
        );
        self.raw(request.as_bytes())
    }

    /// How things stand: the first event of the stream that a page opens.
    pub fn stands(&self) -> String {
        let mut stream = TcpStream::connect(self.address).unwrap();
        stream
            .set_read_timeout(Some(Duration::from_secs(10)))
            .unwrap();
        let request = format!("GET /api/stream HTTP/1.1\r\nHost: {}\r\n\r\n", self.address);
        stream.write_all(request.as_bytes()).unwrap();
        let (mut told, mut some) = (Vec::new(), [0; 4096]);
        loop {
            let count = stream.read(&mut some).unwrap();
            told.extend_from_slice(&some[..count]);
            let text = String::from_utf8_lossy(&told);
            let event = text
                .split_once("event: bench\ndata: ")
                .map(|(_, data)| data);
            if let Some((event, _)) = event.and_then(|data| data.split_once("\n\n")) {
                return event.to_owned();
            }
            assert!(count > 0, "{text}");
        }
    }

    /// Asks for a change as the page does.
    pub fn post(&self, path: &str, body: &str) -> (u16, String) {
        let headers = ["X-Heelclear: 1", "Content-Type: application/json"];
        self.ask("POST", path, &headers, body)
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take()
            && thread.join().is_err()
            && !std::thread::panicking()
        {
            panic!("the server ended by a panic");
        }
    }
}

/// The only inspection in a folder.
pub fn only_inspection(folder: &Path) -> PathBuf {
    let entries = std::fs::read_dir(folder)
        .unwrap()
        .map(|one| one.unwrap().path());
    let mut found = entries.filter(|path| path.join("inspection.toml").exists());
    let first = found.next().expect("no inspection was made");
    assert!(found.next().is_none(), "more than one inspection was made");
    first
}
