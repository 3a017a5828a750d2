//! A browser, driven as the WebDriver standard (W3C Recommendation) says.

use std::io::{BufRead, BufReader, Read};
use std::process::{Child, ChildStdout, Command, Stdio};

use serde_json::{Value, json};

/// What the standard calls an element in an answer.
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";

/// A browser with one window.
pub struct Browser {
    driver: Child,
    /// Kept open: a driver that cannot speak ends.
    _said: BufReader<ChildStdout>,
    session: String,
    agent: ureq::Agent,
    _profile: tempfile::TempDir,
}

fn variable(name: &str) -> String {
    std::env::var(name).unwrap_or_else(|_| panic!("{name} is not set: run cargo checks --only browser"))
}

impl Browser {
    /// Starts a browser whose window has this size.
    pub fn start(width: u32, height: u32) -> Self {
        let mut driver = Command::new(variable("SLOTWISE_CHROMEDRIVER"))
            .arg("--port=0")
            .env("LD_LIBRARY_PATH", variable("SLOTWISE_BROWSER_LIBRARIES"))
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the driver starts");
        let mut said = BufReader::new(driver.stdout.take().expect("it is piped"));
        let port: u16 = said
            .by_ref()
            .lines()
            .map_while(Result::ok)
            .find_map(|line| line.rsplit_once(" successfully on port ")?.1.trim_end_matches('.').parse().ok())
            .expect("the driver says its port");
        let profile = tempfile::tempdir().expect("a folder");
        let config = ureq::Agent::config_builder().http_status_as_error(false).build();
        let mut browser = Self {
            driver,
            _said: said,
            session: format!("http://127.0.0.1:{port}/session"),
            agent: config.into(),
            _profile: profile,
        };
        let profile = browser._profile.path().display();
        let arguments = [
            "--headless".to_owned(),
            "--no-sandbox".to_owned(),
            "--disable-gpu".to_owned(),
            "--disable-quic".to_owned(),
            "--no-first-run".to_owned(),
            "--disable-background-networking".to_owned(),
            "--disable-component-update".to_owned(),
            "--disable-sync".to_owned(),
            format!("--user-data-dir={profile}"),
        ];
        let options = json!({ "args": arguments, "binary": variable("SLOTWISE_CHROMIUM") });
        let wanted = json!({ "capabilities": { "alwaysMatch": {
            "goog:chromeOptions": options, "goog:loggingPrefs": { "browser": "ALL" } } } });
        let answer = browser.post("", &wanted);
        let id = answer["sessionId"].as_str().unwrap_or_else(|| panic!("no session: {answer}")).to_owned();
        browser.session = format!("{}/{id}", browser.session);
        let metrics = json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        browser.tool("Emulation.setDeviceMetricsOverride", &metrics);
        browser
    }

    fn post(&self, path: &str, body: &Value) -> Value {
        let mut answer =
            self.agent.post(format!("{}{path}", self.session)).send(body.to_string()).expect("the driver answers");
        let value: Value = serde_json::from_reader(answer.body_mut().as_reader()).expect("JSON");
        assert!(value["value"]["error"].is_null(), "{path}: {}", value["value"]);
        value["value"].clone()
    }

    /// A command of the browser's own protocol.
    pub fn tool(&self, command: &str, parameters: &Value) {
        self.post("/goog/cdp/execute", &json!({ "cmd": command, "params": parameters }));
    }

    /// Opens a page.
    pub fn open(&self, url: &str) {
        self.post("/url", &json!({ "url": url }));
    }

    /// What a script returns.
    pub fn ask(&self, script: &str) -> Value {
        self.post("/execute/sync", &json!({ "script": script, "args": [] }))
    }

    /// Clicks on what a selector of CSS finds.
    pub fn click(&self, selector: &str) {
        let found = self.post("/element", &json!({ "using": "css selector", "value": selector }));
        let id = found[ELEMENT].as_str().expect("an element").to_owned();
        self.post(&format!("/element/{id}/click"), &json!({}));
    }

    /// Presses a key, by its code in the standard.
    pub fn press(&self, key: char) {
        let down = json!({ "type": "keyDown", "value": key.to_string() });
        let up = json!({ "type": "keyUp", "value": key.to_string() });
        self.post("/actions", &json!({ "actions": [{ "type": "key", "id": "keys", "actions": [down, up] }] }));
    }

    /// What the page has complained of.
    pub fn complaints(&self) -> Value {
        self.post("/se/log", &json!({ "type": "browser" }))
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // The browser ends with its session; whatever is left ends with the driver.
        let _ = self.agent.delete(&self.session).call();
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}
