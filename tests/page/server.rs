//! A bench to open pages of: served from this process, on a free port, in a folder of its own.

use heelclear::page::{Limits, PageSettings, Token, serve};
use heelclear::record::archive::Place;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::sync::oneshot;

/// A bench while it is served.
pub struct Bench {
    pub address: SocketAddr,
    token: Token,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

/// How it is served.
pub struct Served<'a> {
    pub folder: &'a Path,
    pub port: u16,
    /// Drawn where there is none.
    pub token: Option<&'a str>,
    pub limits: Limits,
}

impl<'a> Served<'a> {
    /// On a free port, as the program does where nobody says anything else.
    pub fn of(folder: &'a Path) -> Self {
        Self {
            folder,
            port: 0,
            token: None,
            limits: Limits::default(),
        }
    }
}

impl Bench {
    /// Serves this folder on a free port.
    pub fn open(folder: &Path) -> Self {
        Self::with(Served::of(folder))
    }

    pub fn with(served: Served<'_>) -> Self {
        let archive = Place::File(served.folder.join("archive.db"));
        Self::on(served, archive)
    }

    /// Serves with the archive in another place.
    pub fn on(served: Served<'_>, archive: Place) -> Self {
        let given = served.token.map(Token::given);
        let token = given.unwrap_or_else(Token::drawn).unwrap();
        let settings = PageSettings {
            address: SocketAddr::from(([127, 0, 0, 1], served.port)),
            token: token.clone(),
            folder: served.folder.to_owned(),
            archive,
            limits: served.limits,
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
            token,
            stop: Some(stop),
            thread: Some(thread),
        }
    }

    /// The address that the program prints.
    pub fn url(&self) -> String {
        format!("{}?token={}", self.bare_url(), self.secret())
    }

    /// The same without the token.
    pub fn bare_url(&self) -> String {
        format!("http://{}/", self.address)
    }

    pub fn secret(&self) -> &str {
        self.token.secret()
    }

    /// The line by which a browser shows the token.
    pub fn cookie(&self) -> String {
        let port = self.address.port();
        format!("Cookie: heelclear_{port}={}", self.secret())
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

    /// Asks for a path with these headers, as a browser that knows the bench.
    pub fn ask(&self, method: &str, path: &str, headers: &[&str], body: &str) -> (u16, String) {
        let cookie = self.cookie();
        let headers = [headers, &[cookie.as_str()]].concat();
        self.ask_as(method, path, &headers, body)
    }

    /// Asks for a path with these headers and no others but the host.
    pub fn ask_as(&self, method: &str, path: &str, headers: &[&str], body: &str) -> (u16, String) {
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

    /// The beginning of a request's head, as a browser sends it that knows the bench.
    pub fn begun(&self, method: &str, path: &str) -> String {
        format!(
            "{method} {path} HTTP/1.1\r\nHost: {}\r\n{}\r\n",
            self.address,
            self.cookie()
        )
    }

    /// How things stand: the first event of the stream that a page opens.
    pub fn stands(&self) -> String {
        let mut stream = TcpStream::connect(self.address).unwrap();
        stream
            .set_read_timeout(Some(Duration::from_secs(10)))
            .unwrap();
        let request = self.begun("GET", "/api/stream") + "\r\n";
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

/// The program itself, serving on a free port.
pub struct Program {
    child: Child,
    /// The address that it printed.
    pub page: String,
    said: Option<JoinHandle<String>>,
}

impl Program {
    /// Starts it in this folder, with a token in its environment where there is one.
    pub fn start(folder: &Path, arguments: &[&str], variable: Option<&str>) -> Self {
        let program = assert_cmd::cargo::cargo_bin("heelclear");
        let mut command = Command::new(program);
        command
            .args(["bench", "--port", "0"])
            .args(arguments)
            .current_dir(folder);
        Self::of(command, variable)
    }

    pub fn of(mut command: Command, variable: Option<&str>) -> Self {
        command.env_remove("HEELCLEAR_TOKEN");
        command.envs(variable.map(|token| ("HEELCLEAR_TOKEN", token)));
        let pipes = command.stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = pipes.spawn().unwrap();
        let mut page = String::new();
        let stdout = child.stdout.take().unwrap();
        BufReader::new(stdout).read_line(&mut page).unwrap();
        let mut stderr = child.stderr.take().unwrap();
        let said = std::thread::spawn(move || {
            let mut said = String::new();
            let _ = stderr.read_to_string(&mut said);
            said
        });
        Self {
            child,
            page: page.trim().to_owned(),
            said: Some(said),
        }
    }

    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// Ends it, and gives what it said on stderr.
    pub fn stop(&mut self) -> String {
        let _ = self.child.kill();
        let _ = self.child.wait();
        let said = self.said.take().map(JoinHandle::join);
        said.map(Result::unwrap).unwrap_or_default()
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        self.stop();
    }
}
