//! The browser. It reads commands on its descriptor 3 and answers on its descriptor 4, each message a JSON text with a
//! nought behind it: the DevTools protocol's pipe, <https://chromedevtools.github.io/devtools-protocol/>.

use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// No answer takes longer.
const PATIENCE: Duration = Duration::from_secs(60);

/// By day or by night.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scheme {
    /// Dark words on a light ground.
    Light,
    /// The other way round.
    Dark,
}

/// A running browser; it ends with this.
pub struct Browser {
    child: Child,
    to: ChildStdin,
    from: Receiver<Value>,
    number: u64,
    /// What it told without being asked.
    told: Vec<Value>,
    _profile: tempfile::TempDir,
}

/// A page that is open in it.
pub struct Page<'a> {
    browser: &'a mut Browser,
    session: String,
    target: String,
    url: String,
}

impl Browser {
    /// Starts it, with a profile of its own.
    ///
    /// # Panics
    /// There is none, or it does not start.
    #[must_use]
    pub fn start() -> Browser {
        let program = xtask::setup::browser().unwrap();
        let profile = tempfile::tempdir().unwrap();
        let mut command = Command::new("sh");
        command.args(["-c", "exec \"$0\" \"$@\" 3<&0 4>&1 0</dev/null 1>/dev/null"]).arg(program);
        command.args(arguments(profile.path())).arg("--remote-debugging-pipe");
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut child = command.spawn().unwrap();
        let (to, out) = (child.stdin.take().unwrap(), child.stdout.take().unwrap());
        let (tell, from) = channel();
        // Ends when the browser closes its end.
        std::thread::spawn(move || {
            for message in BufReader::new(out).split(0).map_while(Result::ok) {
                let read = serde_json::from_slice(&message).ok().map(|value| tell.send(value).is_ok());
                if read != Some(true) {
                    break;
                }
            }
        });
        Browser { child, to, from, number: 0, told: Vec::new(), _profile: profile }
    }

    fn call(&mut self, session: Option<&str>, method: &str, params: &Value) -> Value {
        self.number += 1;
        let mut message = json!({ "id": self.number, "method": method, "params": params });
        if let Some(session) = session {
            message["sessionId"] = json!(session);
        }
        let mut bytes = message.to_string().into_bytes();
        bytes.push(0);
        self.to.write_all(&bytes).unwrap_or_else(|error| panic!("the browser is gone at {method}: {error}"));
        let until = Instant::now() + PATIENCE;
        loop {
            let message = self.next(until, method);
            if message["id"] == self.number {
                assert!(message["error"].is_null(), "{method}: {message}");
                return message["result"].clone();
            }
            self.told.push(message);
        }
    }

    fn next(&mut self, until: Instant, what: &str) -> Value {
        let left = until.saturating_duration_since(Instant::now());
        self.from.recv_timeout(left).unwrap_or_else(|error| panic!("waiting for {what}: {error}"))
    }

    fn await_event(&mut self, session: &str, method: &str) {
        let is = |message: &Value| message["method"] == method && message["sessionId"] == session;
        let until = Instant::now() + PATIENCE;
        while !self.told.iter().any(is) {
            let message = self.next(until, method);
            self.told.push(message);
        }
    }

    /// Opens a file, as wide as so many CSS pixels.
    ///
    /// # Panics
    /// The browser does not do it.
    pub fn open(&mut self, file: &Path, scheme: Scheme, width: u32) -> Page<'_> {
        let url = format!("file://{}", file.display());
        self.told.clear();
        let target = self.call(None, "Target.createTarget", &json!({ "url": "about:blank" }));
        let target = target["targetId"].as_str().unwrap().to_owned();
        let attached =
            self.call(None, "Target.attachToTarget", &json!({ "targetId": target, "flatten": true }));
        let session = attached["sessionId"].as_str().unwrap().to_owned();
        for domain in ["Page", "Runtime", "Log", "Network"] {
            self.call(Some(&session), &format!("{domain}.enable"), &json!({}));
        }
        let mut page = Page { browser: self, session, target, url };
        page.media("screen", scheme);
        let size = json!({ "width": width, "height": 900, "deviceScaleFactor": 1, "mobile": false });
        page.call("Emulation.setDeviceMetricsOverride", &size);
        let url = page.url.clone();
        let navigated = page.call("Page.navigate", &json!({ "url": url }));
        assert!(navigated["errorText"].is_null(), "{navigated}");
        let session = page.session.clone();
        page.browser.await_event(&session, "Page.loadEventFired");
        page
    }
}

/// What it is started with. Tests run as whoever; where that is root, the browser cannot lock itself in.
pub(super) fn arguments(profile: &Path) -> Vec<String> {
    let profile = format!("--user-data-dir={}", profile.display());
    ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run", &profile]
        .map(str::to_owned)
        .to_vec()
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.to.write_all(b"{\"id\":0,\"method\":\"Browser.close\"}\0");
        let until = Instant::now() + Duration::from_secs(5);
        while Instant::now() < until && matches!(self.child.try_wait(), Ok(None)) {
            std::thread::sleep(Duration::from_millis(20));
        }
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Page<'_> {
    fn call(&mut self, method: &str, params: &Value) -> Value {
        let session = self.session.clone();
        self.browser.call(Some(&session), method, params)
    }

    /// As on screen or on paper, by day or by night.
    pub fn media(&mut self, media: &str, scheme: Scheme) {
        let scheme = if scheme == Scheme::Light { "light" } else { "dark" };
        let features = json!([{ "name": "prefers-color-scheme", "value": scheme }]);
        self.call("Emulation.setEmulatedMedia", &json!({ "media": media, "features": features }));
    }

    /// What an expression is worth. It is asked from outside: the page itself may run nothing.
    ///
    /// # Panics
    /// The expression fails.
    pub fn eval(&mut self, expression: &str) -> Value {
        let asked = json!({ "expression": expression, "returnByValue": true, "awaitPromise": true });
        let answer = self.call("Runtime.evaluate", &asked);
        assert!(answer["exceptionDetails"].is_null(), "{expression}: {answer:#}");
        answer["result"]["value"].clone()
    }

    /// Asks the checks of `checks.js` for complaints.
    pub fn complaints(&mut self, check: &str) -> Vec<String> {
        let found = self.eval(&format!("(() => {{ {}\nreturn {check}; }})()", super::CHECKS));
        let found = found.as_array().unwrap_or_else(|| panic!("{check} answers with a list: {found}"));
        found.iter().map(|complaint| complaint.as_str().unwrap_or_default().to_owned()).collect()
    }

    /// Presses the tabulator key.
    pub fn tab(&mut self) {
        for kind in ["rawKeyDown", "keyUp"] {
            let key = json!({ "type": kind, "key": "Tab", "code": "Tab", "windowsVirtualKeyCode": 9 });
            self.call("Input.dispatchKeyEvent", &key);
        }
    }

    /// What the page asked of a network or another file, and what it said to the console. Both should be empty.
    #[must_use]
    pub fn asked_and_said(&self) -> (Vec<String>, Vec<String>) {
        let own = self.browser.told.iter().filter(|message| message["sessionId"] == self.session.as_str());
        let (mut asked, mut said) = (Vec::new(), Vec::new());
        for message in own {
            let params = &message["params"];
            match message["method"].as_str().unwrap_or_default() {
                "Network.requestWillBeSent" => {
                    let url = params["request"]["url"].as_str().unwrap_or_default();
                    if url != self.url && !url.starts_with("data:") {
                        asked.push(url.to_owned());
                    }
                }
                "Runtime.consoleAPICalled" | "Runtime.exceptionThrown" | "Log.entryAdded" => {
                    said.push(params.to_string());
                }
                _ => {}
            }
        }
        (asked, said)
    }
}

impl Drop for Page<'_> {
    fn drop(&mut self) {
        if !std::thread::panicking() {
            let target = self.target.clone();
            self.browser.call(None, "Target.closeTarget", &json!({ "targetId": target }));
        }
    }
}
