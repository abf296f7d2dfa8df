//! A real browser without a screen, led over WebDriver.

use fantoccini::key::Key;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, MutexGuard, TryLockError};
use std::time::{Duration, Instant};
use tempfile::TempDir;
use tokio::runtime::Runtime;

/// Two browsers at a time: while one waits for a hand, the other draws. More would only wait for each
/// other.
static SEATS: [Mutex<()>; 2] = [const { Mutex::new(()) }; 2];

/// How large a screen is, in its own dots.
pub const LOW: (u32, u32) = (1024, 600);
pub const SHOP_PC: (u32, u32) = (1024, 768);
pub const LAPTOP: (u32, u32) = (1280, 800);
pub const PHONE: (u32, u32) = (390, 844);
pub const WIDE: (u32, u32) = (1920, 1080);

/// A browser with one page open.
pub struct Browser {
    client: Option<Client>,
    runtime: Runtime,
    driver: Child,
    _profile: TempDir,
    _seat: MutexGuard<'static, ()>,
}

/// Waits for a free seat. A test that failed leaves its own free.
fn seat() -> MutexGuard<'static, ()> {
    loop {
        for seat in &SEATS {
            match seat.try_lock() {
                Ok(free) => return free,
                Err(TryLockError::Poisoned(left)) => return left.into_inner(),
                Err(TryLockError::WouldBlock) => {}
            }
        }
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn found(names: &[&str]) -> Option<String> {
    let path = std::env::var_os("PATH")?;
    let folders: Vec<_> = std::env::split_paths(&path).collect();
    let mut files = names
        .iter()
        .flat_map(|name| folders.iter().map(move |folder| folder.join(name)));
    let file = files.find(|file| file.is_file())?;
    Some(file.display().to_string())
}

/// A driver that listens, and where.
fn started(program: &str) -> Option<(Child, u16)> {
    let mut driver = Command::new(program)
        .arg("--port=0")
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(driver.stdout.take().unwrap()).lines();
    let port = lines.find_map(|line| {
        let line = line.ok()?;
        let (_, port) = line.split_once("successfully on port ")?;
        port.trim_end_matches('.').parse::<u16>().ok()
    });
    let Some(port) = port else {
        driver.wait().unwrap();
        return None;
    };
    // What it says later is nobody's concern, and must not fill the pipe.
    std::thread::spawn(move || lines.for_each(drop));
    Some((driver, port))
}

impl Browser {
    /// Opens a page on a screen of this size; nothing where there is no browser, which is said.
    pub fn open(url: &str, size: (u32, u32)) -> Option<Self> {
        let (Some(chromium), Some(driver)) = (
            found(&["chromium", "chromium-browser"]),
            found(&["chromedriver"]),
        ) else {
            println!("not run: there is no chromium with chromedriver here");
            return None;
        };
        let seat = seat();
        // The port that it is given for one kind of address may be taken for the other; then it ends.
        let started = (0..5).find_map(|_| started(&driver));
        let (driver, port) = started.unwrap();
        let profile = tempfile::tempdir().unwrap();
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        let url_of_driver = format!("http://127.0.0.1:{port}");
        let mut builder = ClientBuilder::new(HttpConnector::new());
        builder.capabilities(capabilities(&chromium, profile.path(), size));
        let client = runtime.block_on(builder.connect(&url_of_driver)).unwrap();
        let mut browser = Self {
            client: Some(client),
            runtime,
            driver,
            _profile: profile,
            _seat: seat,
        };
        browser.goto(url);
        Some(browser)
    }

    fn client(&self) -> &Client {
        self.client.as_ref().unwrap()
    }

    pub fn goto(&mut self, url: &str) {
        self.runtime.block_on(self.client().goto(url)).unwrap();
    }

    pub fn reload(&self) {
        self.runtime.block_on(self.client().refresh()).unwrap();
    }

    /// Opens another page beside, and goes to it. Gives what goes back to this one.
    pub fn beside(&mut self, url: &str) -> fantoccini::wd::WindowHandle {
        let here = self.runtime.block_on(self.client().window()).unwrap();
        let new = self.runtime.block_on(self.client().new_window(true));
        self.switch(new.unwrap().handle);
        self.goto(url);
        here
    }

    pub fn switch(&self, to: fantoccini::wd::WindowHandle) {
        let switching = self.client().switch_to_window(to);
        self.runtime.block_on(switching).unwrap();
    }

    /// What a script in the page returns.
    pub fn js(&self, script: &str) -> Value {
        let run = self.client().execute(script, Vec::new());
        self.runtime.block_on(run).unwrap()
    }

    /// What a script in the page returns in the end.
    pub fn js_later(&self, script: &str) -> Value {
        let run = self.client().execute_async(script, Vec::new());
        self.runtime.block_on(run).unwrap()
    }

    /// Until an expression holds; fails after a while with what the page shows.
    #[track_caller]
    pub fn until(&self, expression: &str) {
        let began = Instant::now();
        while began.elapsed() < Duration::from_secs(90) {
            // What is not there yet does not hold yet.
            let held = self.js(&format!(
                "try {{ return Boolean({expression}) }} catch {{ return false }}"
            ));
            if held == Value::Bool(true) {
                return;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        panic!("never came: {expression}\nthe page shows:\n{}", self.text());
    }

    /// All that can be read on the page.
    pub fn text(&self) -> String {
        let text = self.js("return document.body.innerText");
        text.as_str().unwrap_or_default().to_owned()
    }

    /// Presses what has this id, once it is there and can be pressed.
    #[track_caller]
    pub fn press(&self, id: &str) {
        let element = format!("document.getElementById({})", json!(id));
        self.until(&format!("{element} && !{element}.disabled"));
        // A view may be drawn anew between looking and pressing; pressing is one step.
        self.js(&format!("{element}.click()"));
    }

    /// Types into what has this id, in place of what is there.
    #[track_caller]
    pub fn fill(&self, id: &str, text: &str) {
        self.until(&format!("document.getElementById({})", json!(id)));
        let typing = async {
            let css = format!("[id=\"{id}\"]");
            let field = self.client().find(Locator::Css(&css)).await?;
            field.clear().await?;
            field.send_keys(text).await
        };
        self.runtime.block_on(typing).unwrap();
    }

    /// Chooses a file in what has this id.
    #[track_caller]
    pub fn attach(&self, id: &str, file: &Path) {
        self.until(&format!("document.getElementById({})", json!(id)));
        let path = std::fs::canonicalize(file).unwrap();
        let choosing = async {
            let css = format!("[id=\"{id}\"]");
            let field = self.client().find(Locator::Css(&css)).await?;
            field.send_keys(&path.display().to_string()).await
        };
        self.runtime.block_on(choosing).unwrap();
    }

    /// The page as a PNG.
    pub fn screenshot(&self) -> Vec<u8> {
        self.runtime.block_on(self.client().screenshot()).unwrap()
    }

    /// Chooses in the list that has this id.
    #[track_caller]
    pub fn choose(&self, id: &str, value: &str) {
        let element = format!("document.getElementById({})", json!(id));
        self.until(&element);
        self.js(&format!(
            "const list = {element}; list.value = {}; list.dispatchEvent(new Event('change', {{ bubbles: true }}));",
            json!(value)
        ));
    }

    /// Presses a key where the focus is.
    pub fn key(&self, key: Key) {
        let pressing = async {
            let focused = self.client().active_element().await?;
            focused.send_keys(&String::from(char::from(key))).await
        };
        // What had the focus may be gone by then, as for a person who presses too late.
        let _ = self.runtime.block_on(pressing);
    }

    /// Moves by the Tab key alone to what has this id, and presses Enter.
    #[track_caller]
    pub fn tab_to(&self, id: &str) {
        self.until(&format!(
            "document.getElementById({0}) && !document.getElementById({0}).disabled",
            json!(id)
        ));
        for _ in 0..150 {
            if self.js("return document.activeElement ? document.activeElement.id : ''")
                == json!(id)
            {
                self.key(Key::Enter);
                return;
            }
            self.key(Key::Tab);
        }
        panic!("the Tab key never came to `{id}`");
    }

    /// Shows the page as to a person who prefers dark colours.
    pub fn dark(&self) {
        // Only the browser's own protocol can say so; the style sheet's rules are made to hold.
        self.js(
            "for (const sheet of document.styleSheets) for (const rule of sheet.cssRules) if (rule.media && rule.media.mediaText.includes('dark')) rule.media.mediaText = 'all'",
        );
    }

    /// A picture of the page, where `HEELCLEAR_PICTURES` names a folder for them.
    pub fn picture(&self, name: &str) {
        let Some(folder) = std::env::var_os("HEELCLEAR_PICTURES") else {
            return;
        };
        let png = self.runtime.block_on(self.client().screenshot()).unwrap();
        std::fs::write(Path::new(&folder).join(format!("{name}.png")), png).unwrap();
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        if let Some(client) = self.client.take() {
            let _ = self.runtime.block_on(client.close());
        }
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}

fn capabilities(chromium: &str, profile: &Path, size: (u32, u32)) -> fantoccini::wd::Capabilities {
    let (width, height) = size;
    let options = json!({
        "binary": chromium,
        "args": [
            "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
            "--disable-background-networking", "--disable-component-update", "--disable-sync",
            format!("--user-data-dir={}", profile.display()),
        ],
        "mobileEmulation": { "deviceMetrics": { "width": width, "height": height, "pixelRatio": 1, "touch": false, "mobile": false } },
    });
    let mut capabilities = fantoccini::wd::Capabilities::new();
    capabilities.insert("goog:chromeOptions".to_owned(), options);
    capabilities
}
