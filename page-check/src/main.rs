//! Opens a report of `shaftwork replay --out` in a headless browser from its file, tries what a reader would do with
//! it, and takes pictures. The browser is Chromium, spoken to through its driver (W3C WebDriver).

mod browser;
mod checks;
mod day;

use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result};
use clap::Parser;

use browser::Browser;

/// Tries a report in a headless browser.
#[derive(Debug, Parser)]
struct Args {
    /// report.html
    page: PathBuf,
    /// Only take a picture of the page, as a PNG file
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
    /// Width of the picture, dots
    #[arg(long, default_value_t = 1180)]
    width: u32,
    /// Height of the picture, dots
    #[arg(long, default_value_t = 1000)]
    height: u32,
    /// Take the picture in dark colours
    #[arg(long)]
    dark: bool,
    /// Try the page of a day as well, made with these settings
    #[arg(long, value_name = "SETTINGS")]
    day: Option<PathBuf>,
}

fn main() -> Result<()> {
    let args = Args::parse();
    let page = args.page.canonicalize().with_context(|| args.page.display().to_string())?;
    let url = format!("file://{}", page.display());
    tokio::runtime::Builder::new_current_thread().enable_all().build()?.block_on(async {
        let browser = Browser::start().await?;
        let outcome = match &args.picture {
            Some(file) => picture(&browser, &url, file, &args).await,
            None => tried(&browser, &url, args.day.as_deref()).await,
        };
        browser.stop().await?;
        outcome
    })
}

/// Tries the page, then one of a whole day.
async fn tried(browser: &Browser, url: &str, day: Option<&Path>) -> Result<()> {
    checks::all(browser, url).await?;
    if let Some(settings) = day {
        let folder = tempfile::tempdir()?;
        day::write(folder.path(), settings)?;
        println!("\na day");
        checks::all(browser, &format!("file://{}", folder.path().join("report.html").display())).await?;
    }
    Ok(())
}

async fn picture(browser: &Browser, url: &str, file: &PathBuf, args: &Args) -> Result<()> {
    browser.size(args.width, args.height).await?;
    browser.open(url).await?;
    if args.dark {
        browser.run("document.getElementById('theme').click()").await?;
    }
    std::fs::write(file, browser.screenshot().await?).with_context(|| file.display().to_string())?;
    println!("picture: {}", file.display());
    Ok(())
}
