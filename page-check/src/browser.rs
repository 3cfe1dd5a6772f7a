//! A headless browser with a session of its own.

use std::process::Stdio;
use std::time::Duration;

use anyhow::{Context as _, Result, bail};
use fantoccini::actions::{InputSource as _, KeyAction, KeyActions, MouseActions, PointerAction};
use fantoccini::wd::{TimeoutConfiguration, WebDriverCompatibleCommand};
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use tokio::process::{Child, Command};

/// How long the driver may take to listen, and a page to be ready.
const PATIENCE: Duration = Duration::from_secs(30);

/// A session, with the driver behind it.
pub struct Browser {
    client: Client,
    driver: Child,
    _profile: tempfile::TempDir,
}

/// What the browser has logged since it was last asked (an extension of the driver).
#[derive(Debug)]
struct Log;

impl WebDriverCompatibleCommand for Log {
    fn endpoint(&self, base: &url::Url, session: Option<&str>) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/se/log", session.unwrap_or_default()))
    }

    fn method_and_body(&self, _: &url::Url) -> (http::Method, Option<String>) {
        (http::Method::POST, Some(json!({ "type": "browser" }).to_string()))
    }
}

impl Browser {
    /// Starts driver and browser; no request leaves the machine.
    pub async fn start() -> Result<Self> {
        let profile = tempfile::tempdir()?;
        let port = std::net::TcpListener::bind("127.0.0.1:0")?.local_addr()?.port();
        let driver = Command::new("chromedriver")
            .arg(format!("--port={port}"))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .kill_on_drop(true)
            .spawn()
            .context("chromedriver cannot be started (on Debian: apt-get install chromium chromium-driver)")?;
        let arguments = [
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--hide-scrollbars",
            &format!("--user-data-dir={}", profile.path().display()),
        ];
        let Value::Object(wanted) = json!({
            "goog:chromeOptions": { "args": arguments },
            "goog:loggingPrefs": { "browser": "ALL" },
        }) else {
            bail!("capabilities are an object")
        };
        let begun = std::time::Instant::now();
        let client = loop {
            let mut builder = ClientBuilder::new(HttpConnector::new());
            match builder.capabilities(wanted.clone()).connect(&format!("http://127.0.0.1:{port}")).await {
                Ok(client) => break client,
                Err(error) if begun.elapsed() > PATIENCE => return Err(error).context("no session with chromedriver"),
                Err(_) => tokio::time::sleep(Duration::from_millis(100)).await,
            }
        };
        client.update_timeouts(TimeoutConfiguration::new(Some(PATIENCE), Some(PATIENCE), None)).await?;
        Ok(Self { client, driver, _profile: profile })
    }

    /// Ends both.
    pub async fn stop(mut self) -> Result<()> {
        let _ = self.client.close().await;
        self.driver.kill().await.context("chromedriver cannot be ended")
    }

    /// The size of the window.
    pub async fn size(&self, width: u32, height: u32) -> Result<()> {
        Ok(self.client.set_window_size(width, height).await?)
    }

    /// Opens a page and waits until its pictures are drawn.
    pub async fn open(&self, url: &str) -> Result<()> {
        // A page that differs only in what follows # is not loaded anew.
        self.client.goto("about:blank").await?;
        self.client.goto(url).await?;
        let begun = std::time::Instant::now();
        while self.ask("return document.documentElement.dataset.readyMs ?? null").await?.is_null() {
            if begun.elapsed() > PATIENCE {
                bail!("the page does not get ready; the browser says: {}", self.log().await?);
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        Ok(())
    }

    /// Runs a script in the page; what it returns.
    pub async fn ask(&self, script: &str) -> Result<Value> {
        self.client.execute(script, vec![]).await.with_context(|| format!("script: {script}"))
    }

    /// Runs a script in the page.
    pub async fn run(&self, script: &str) -> Result<()> {
        self.ask(script).await.map(drop)
    }

    /// Lets what was asked for be drawn.
    pub async fn settle(&self) {
        tokio::time::sleep(Duration::from_millis(300)).await;
    }

    /// Clicks an element.
    pub async fn click(&self, selector: &str) -> Result<()> {
        let element = self.client.find(Locator::Css(selector)).await.with_context(|| selector.to_owned())?;
        element.click().await.with_context(|| selector.to_owned())?;
        self.settle().await;
        Ok(())
    }

    /// Types keys into what has the focus.
    pub async fn type_keys(&self, keys: &[char]) -> Result<()> {
        let mut actions = KeyActions::new("keys".to_owned());
        for &value in keys {
            actions = actions.then(KeyAction::Down { value }).then(KeyAction::Up { value });
        }
        self.client.perform_actions(actions).await?;
        self.settle().await;
        Ok(())
    }

    /// Drags the mouse across the window, in dots.
    pub async fn drag(&self, from: (f64, f64), to: (f64, f64)) -> Result<()> {
        let move_to = |(x, y): (f64, f64)| PointerAction::MoveTo { duration: Some(Duration::from_millis(50)), x, y };
        let button = fantoccini::actions::MOUSE_BUTTON_LEFT;
        let actions = MouseActions::new("mouse".to_owned())
            .then(move_to(from))
            .then(PointerAction::Down { button })
            .then(move_to((f64::midpoint(from.0, to.0), to.1)))
            .then(move_to(to))
            .then(PointerAction::Up { button });
        self.client.perform_actions(actions).await?;
        self.settle().await;
        Ok(())
    }

    /// What the browser has logged since it was last asked.
    pub async fn log(&self) -> Result<Value> {
        Ok(self.client.issue_cmd(Log).await?)
    }

    /// The window as PNG.
    pub async fn screenshot(&self) -> Result<Vec<u8>> {
        self.settle().await;
        Ok(self.client.screenshot().await?)
    }
}
