//! What must hold of a page, whatever trace it shows (one with at least one close-up).

use anyhow::{Result, ensure};
use serde_json::Value;

use crate::browser::Browser;

/// Keys as the standard names them (W3C WebDriver, 17.4.2).
const ARROW_RIGHT: char = '\u{e014}';
const ESCAPE: char = '\u{e00c}';
const END: char = '\u{e010}';

/// All checks; each prints a line.
///
/// # Errors
/// One of them does not hold.
pub async fn all(browser: &Browser, url: &str) -> Result<()> {
    browser.size(1280, 900).await?;
    browser.open(url).await?;
    quiet(browser, "opening").await?;
    alone(browser).await?;
    drawn(browser).await?;
    peaks(browser).await?;
    zoom(browser).await?;
    keyboard(browser).await?;
    close_ups(browser).await?;
    described(browser).await?;
    colours(browser).await?;
    narrow(browser).await?;
    quiet(browser, "all of it").await?;
    opens(browser, url).await?;
    Ok(())
}

/// The pictures are there within two seconds of opening. The best of three: what else the machine does is not the
/// page's.
async fn opens(browser: &Browser, url: &str) -> Result<()> {
    const MOST_MS: f64 = 2_000.0;
    let mut best = f64::INFINITY;
    for _ in 0..3 {
        browser.open(url).await?;
        best = best.min(number(browser, "return Number(document.documentElement.dataset.readyMs)").await?);
    }
    ensure!(best < MOST_MS, "the pictures were there {best} ms after opening");
    println!("pictures were there {best} ms after opening");
    Ok(())
}

/// Nothing on the console.
async fn quiet(browser: &Browser, when: &str) -> Result<()> {
    let log = browser.log().await?;
    ensure!(log.as_array().is_some_and(Vec::is_empty), "the console says after {when}: {log}");
    println!("console: nothing after {when}");
    Ok(())
}

/// The page is whole in itself.
async fn alone(browser: &Browser) -> Result<()> {
    let count = number(
        browser,
        "return performance.getEntriesByType('resource').filter(r => !r.name.startsWith('data:')).length",
    )
    .await?;
    ensure!(count == 0.0, "{count} further files were asked for");
    println!("files asked for beside the page: none");
    Ok(())
}

/// Every picture in view has ink of several colours.
async fn drawn(browser: &Browser) -> Result<()> {
    let colours = browser
        .ask(
            "return [...document.querySelectorAll('[data-pictures=whole] canvas')].map(c => {
               const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data, seen = new Set();
               for (let k = 0; k < d.length; k += 4) if (d[k + 3]) seen.add((d[k] << 16) | (d[k + 1] << 8) | d[k + 2]);
               return seen.size; })",
        )
        .await?;
    let colours: Vec<f64> = colours.as_array().into_iter().flatten().filter_map(Value::as_f64).collect();
    ensure!(colours.len() >= 5, "only {} pictures", colours.len());
    ensure!(colours.iter().all(|n| *n > 10.0), "a picture is empty: colours {colours:?}");
    println!("pictures drawn: {}", colours.len());
    Ok(())
}

/// The highest figure of every line is in the picture as it is drawn, at every zoom.
async fn peaks(browser: &Browser) -> Result<()> {
    let lost = browser
        .ask(
            "const lost = [], most = (list) => list.reduce((a, b) => b !== null && (a === null || b > a) ? b : a, null);
             for (const dots of [200, 700, 1280]) {
               const view = resample(whole, whole.from, whole.to, dots);
               for (const name in whole.series) {
                 if (most(view.series[name].max) !== most(whole.series[name].max)) lost.push(name + ' at ' + dots);
               }
             }
             main.charts.forEach(c => { const lines = c.picture.lines.map(l => most(whole.series[l.name].max));
               if (c.chart.scales.y.max < Math.max(...lines)) lost.push(c.picture.id + ' axis'); });
             return lost;",
        )
        .await?;
    ensure!(lost.as_array().is_some_and(Vec::is_empty), "peaks are lost: {lost}");
    println!("peaks: none lost at any width");
    Ok(())
}

/// All pictures zoom together, by button and by dragging.
async fn zoom(browser: &Browser) -> Result<()> {
    let all = span(browser).await?;
    browser.click("[data-tools=whole] [data-do=in]").await?;
    let half = span(browser).await?;
    ensure!((half / all - 0.5).abs() < 0.01, "zoomed from {all} s to {half} s");
    browser.run("scrollTo(0, document.querySelector('[data-pictures=whole]').offsetTop - 60)").await?;
    let at = browser
        .ask("const b = main.charts[0].chart.over.getBoundingClientRect(); return [b.left, b.width, b.top + b.height / 2]")
        .await?;
    let at: Vec<f64> = at.as_array().into_iter().flatten().filter_map(Value::as_f64).collect();
    let [left, width, y] = at.as_slice() else { anyhow::bail!("no first picture") };
    browser.drag((left + width * 0.25, *y), (left + width * 0.5, *y)).await?;
    let dragged = span(browser).await?;
    ensure!((dragged / half - 0.25).abs() < 0.02, "dragged a quarter: from {half} s to {dragged} s");
    // The picture that was dragged on is not to lose its curves.
    let spanned = browser
        .ask(
            "return main.charts.map(c => { const t = c.chart.data[0], x = c.chart.scales.x, w = main.view.width;
               return t[0] <= x.min + w && t[t.length - 1] >= x.max - w; })",
        )
        .await?;
    ensure!(
        spanned.as_array().is_some_and(|all| all.iter().all(|s| s == true)),
        "curves do not span their pictures: {spanned}"
    );
    println!("zoom: {all:.3} s, {half:.3} s by button, {dragged:.3} s by dragging; all pictures alike");
    Ok(())
}

/// The keyboard moves the cursor, reads out, and shows all again.
async fn keyboard(browser: &Browser) -> Result<()> {
    browser.run("document.querySelector('.plot').focus()").await?;
    browser.type_keys(&[ARROW_RIGHT, ARROW_RIGHT]).await?;
    browser.settle().await;
    let said = text(browser, "return document.getElementById('said').textContent").await?;
    ensure!(said.contains("kW") && said.contains("shaft power"), "read out: '{said}'");
    let apart = number(browser, "return new Set(main.charts.map(c => c.chart.cursor.idx)).size").await?;
    ensure!((apart - 1.0).abs() < 0.5, "cursors stand at {apart} places");
    browser.type_keys(&[END]).await?;
    browser.settle().await;
    let end = text(browser, "return document.getElementById('said').textContent").await?;
    ensure!(end != said && !end.is_empty(), "End leaves it at '{end}'");
    browser.type_keys(&[ESCAPE]).await?;
    let (now, whole) = (span(browser).await?, number(browser, "return whole.to - whole.from").await?);
    ensure!((now - whole).abs() < 1e-6 * whole, "Esc shows {now} s of {whole} s");
    println!("keyboard: '{said}'");
    Ok(())
}

/// A link to a close-up opens it, and its pictures are drawn.
async fn close_ups(browser: &Browser) -> Result<()> {
    browser.run("document.querySelectorAll('[data-close-up]').forEach(d => { d.open = false; })").await?;
    browser.run("document.querySelector('a[href^=\"#close-up-\"]').click()").await?;
    browser.settle().await;
    let drawn = number(browser, "return document.querySelectorAll('[data-close-up][open] canvas').length").await?;
    ensure!(drawn >= 5.0, "{drawn} pictures in the close-up that was opened");
    println!("close-up: opened by its link, {drawn} pictures");
    Ok(())
}

/// Who cannot see the pictures is told what they show, with units; the figures can be had as a table.
async fn described(browser: &Browser) -> Result<()> {
    let poor = browser
        .ask(
            "return [...document.querySelectorAll('.plot')].map(p => p.getAttribute('aria-label'))
               .filter(t => !/ ((kW|A|V|% of trip|rpm|N m|kg|%|Hz) ?)?, mean .*, highest at /.test(t ?? ''))",
        )
        .await?;
    ensure!(poor.as_array().is_some_and(Vec::is_empty), "pictures without words: {poor}");
    browser.run("document.querySelector('[data-figures]').open = true").await?;
    browser.settle().await;
    let rows = number(browser, "return document.querySelectorAll('[data-figures] tbody tr').length").await?;
    ensure!((1.0..=60.0).contains(&rows), "{rows} rows of figures");
    println!("words for every picture; {rows} rows of figures");
    Ok(())
}

/// Dark by the button; light on paper.
async fn colours(browser: &Browser) -> Result<()> {
    let paper = "return getComputedStyle(document.body).backgroundColor";
    let light = text(browser, paper).await?;
    browser.click("#theme").await?;
    let dark = text(browser, paper).await?;
    browser.run("dispatchEvent(new Event('beforeprint'))").await?;
    let printed = text(browser, paper).await?;
    browser.run("dispatchEvent(new Event('afterprint'))").await?;
    ensure!(light != dark && printed == light, "light {light}, dark {dark}, on paper {printed}");
    println!("colours: {light} and {dark}, on paper {printed}");
    Ok(())
}

/// On a phone nothing reaches beyond the edge.
async fn narrow(browser: &Browser) -> Result<()> {
    browser.size(390, 800).await?;
    browser.settle().await;
    let beyond = number(browser, "return document.documentElement.scrollWidth - innerWidth").await?;
    let widest = "return [...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest('.figures div, .plot, nav'))
         .slice(0, 5).map(e => e.tagName + '.' + e.className + ' ' + e.getBoundingClientRect().right).join(', ')";
    ensure!(beyond <= 0.0, "{beyond} dots beyond the edge of a narrow window: {}", text(browser, widest).await?);
    let wide = number(browser, "return Math.max(...main.charts.map(c => c.chart.width)) - innerWidth").await?;
    ensure!(wide <= 0.0, "a picture is {wide} dots too wide");
    browser.size(1280, 900).await?;
    println!("narrow window: nothing beyond the edge");
    Ok(())
}

/// The length of time that the pictures show, all the same, s.
async fn span(browser: &Browser) -> Result<f64> {
    let spans = browser.ask("return main.charts.map(c => c.chart.scales.x.max - c.chart.scales.x.min)").await?;
    let spans: Vec<f64> = spans.as_array().into_iter().flatten().filter_map(Value::as_f64).collect();
    let first = spans.first().copied().unwrap_or(f64::NAN);
    ensure!(spans.iter().all(|s| (s - first).abs() < 1e-9 * first), "pictures show {spans:?} s");
    Ok(first)
}

async fn number(browser: &Browser, script: &str) -> Result<f64> {
    let value = browser.ask(script).await?;
    value.as_f64().ok_or_else(|| anyhow::anyhow!("{script}: {value} is no number"))
}

async fn text(browser: &Browser, script: &str) -> Result<String> {
    let value = browser.ask(script).await?;
    value.as_str().map(str::to_owned).ok_or_else(|| anyhow::anyhow!("{script}: {value} is no text"))
}
