//! What goes wrong with a board, injected on the emulated ones: each must end as it has to, with its event in the log, and docs/faults.md
//! says so.

use std::fs;
use std::path::PathBuf;

use anyhow::{Context as _, Result, bail, ensure};
use shaftwork_core::EventKind;
use shaftwork_core::judge::notice::{Begin, Notice};
use shaftwork_report_bits::injected::{Fault, Injected};
use shaftwork_report_bits::{Report, Stream};

use super::fault_cases::{AT, CASES, Case, OUTPUTS, SAFE, TRACE, head};
use crate::boards::{Board, CORTEX_M4, OTHERS};
use crate::cli::Context;
use crate::emulator::{self, Run, Said};
use crate::firmware::{self, EMULATED, Profile};
use crate::host;
use crate::traces;

const PAGE: &str = "docs/faults.md";

/// Runs all cases on all boards; writes the page where `write` is wanted, else compares.
pub fn run(context: &Context, write: bool) -> Result<String> {
    let program = host::build(context)?;
    let all = traces::committed(&context.place)?;
    let trace = all.iter().find(|trace| trace.name() == TRACE).context("the trace is not there")?;
    let (mut page, mut runs) = (head(), 0);
    for board in [CORTEX_M4].into_iter().chain(OTHERS) {
        board.need()?;
        let image = firmware::build(context, EMULATED, Profile::Release, board.target, &[])?;
        let folder = context.place.scratch().join("faults").join(board.name);
        host::replay(&program, trace, &folder, &context.place.root)?;
        let bench = Bench { context, board, image, folder };
        let sound = bench.sound()?;
        for case in CASES.iter().filter(|case| board.resets || !resets(case.fault)) {
            bench.case(case, &sound).with_context(|| format!("{}: {}", board.name, case.words))?;
            runs += 1;
        }
        println!("   {}: each ends as it has to", board.name);
    }
    for case in &CASES {
        page.push_str(&row(case));
    }
    let path = context.place.root.join(PAGE);
    let line = format!("faults: {} kinds, {runs} runs, each ends as it has to", CASES.len());
    if write {
        fs::write(&path, page).with_context(|| path.display().to_string())?;
        return Ok(format!("{line}; {PAGE} is written"));
    }
    let there = fs::read_to_string(&path).with_context(|| path.display().to_string())?;
    ensure!(there == page, "{PAGE} is not what is checked: make it anew with 'cargo xtask faults --write'");
    Ok(format!("{line}, as {PAGE} says"))
}

/// Whether the board begins anew within the run.
const fn resets(fault: Fault) -> bool {
    matches!(fault, Fault::LoopHangs | Fault::Panics)
}

/// A row of the page: what was checked on every board.
fn row(case: &Case) -> String {
    let log: Vec<String> = case.log.iter().map(|event| format!("`{event}`")).collect();
    let core = match (case.untouched, case.next) {
        (true, _) => "untouched, to the last bit",
        (false, None) => "go on",
        (false, Some(_)) => "end",
    };
    let next = match case.next {
        None => String::new(),
        Some(Begin::BrownOut) => {
            "begins safe, tells `begins: BrownOut`, goes on with the totals that the store kept, meters and trips"
                .to_owned()
        }
        Some(begin) => format!("begins safe, tells `begins: {begin:?}`, meters and trips"),
    };
    format!("| {} | {} | {core} | {} | {next} |\n", case.words, log.join(", "), case.ends)
}

/// A board with its image, in a folder with frames and settings.
struct Bench<'a> {
    context: &'a Context,
    board: Board,
    image: PathBuf,
    folder: PathBuf,
}

impl Bench<'_> {
    /// What the core reports when nothing goes wrong: on the board, whose frames come through a queue, what it reports on the host.
    fn sound(&self) -> Result<Vec<Report>> {
        let run = self.live(Fault::Nothing, 0)?;
        let host = reports(&host::read(&self.folder.join(host::REPORTS))?)?;
        let board = reports(&run.reports)?;
        ensure!(core_only(&board) == host, "through the queue the core reports otherwise than on the host");
        ensure!(log(&board) == ["begins: PowerOn", "trip: Jam"], "a sound run tells {:?}", log(&board));
        Ok(host)
    }

    /// Injects one.
    fn case(&self, case: &Case, sound: &[Report]) -> Result<()> {
        let run = self.live(case.fault, case.amount)?;
        let told = reports(&run.reports)?;
        ensure!(log(&told) == case.log, "the log tells {:?}, not {:?}", log(&told), case.log);
        ensure!(
            !case.untouched || core_only(&told) == sound,
            "the core reports otherwise than when nothing goes wrong"
        );
        let end = outputs(&run.said, if case.fault == Fault::Panics { "panic" } else { "end" })?;
        ensure!(end.first() == Some(&case.outputs), "{OUTPUTS:?} stand at {end:?}, not {:?}", case.outputs);
        let begins = outputs(&run.said, "begin")?;
        ensure!(begins.len() == if resets(case.fault) { 2 } else { 1 }, "the board begins {} times", begins.len());
        ensure!(begins.iter().all(|stand| *stand == SAFE), "{OUTPUTS:?} begin at {begins:?}");
        if case.next == Some(Begin::BrownOut) {
            let kept = run.said;
            fs::copy(self.folder.join("flash-after.bin"), self.folder.join("flash.bin"))?;
            let run = self.again()?;
            ensure!(kept.get("found-totals")? == 0, "a new flash holds something");
            ensure!(kept.get("kept-joules")? > 0, "nothing was counted before the supply failed");
            ensure!(run.said.get("found-totals")? == kept.get("kept-totals")?, "the life after has other totals");
            let [before, after] = [&kept, &run.said].map(|said| said.get("kept-joules"));
            ensure!(after? > before?, "the totals do not go on");
            let told = log(&reports(&run.reports)?);
            ensure!(told == ["begins: BrownOut", "trip: Jam"], "the life after tells {told:?}");
            ensure!(outputs(&run.said, "begin")? == [SAFE], "the life after does not begin safe");
        }
        Ok(())
    }

    /// A first life.
    fn live(&self, fault: Fault, amount: u32) -> Result<Run> {
        for left in ["begins.bin", "flash.bin", "flash-after.bin"] {
            let _ = fs::remove_file(self.folder.join(left)); // it may not be there
        }
        fs::write(self.folder.join("injected.bin"), Injected { fault, at: AT, amount }.encode())?;
        self.again()
    }

    /// The next one.
    fn again(&self) -> Result<Run> {
        emulator::run(&self.board, &self.image, &self.folder, self.context.emulator_limit)
    }
}

/// How the outputs stood each time that the board told so.
fn outputs(said: &Said, when: &str) -> Result<Vec<[u64; 6]>> {
    let levels = OUTPUTS.map(|name| said.all(&format!("{when}-{name}")));
    let times = levels[0].len();
    if times == 0 || levels.iter().any(|all| all.len() != times) {
        bail!("the board did not tell how all outputs stand ({when})");
    }
    Ok((0..times).map(|n| levels.each_ref().map(|all| all[n])).collect())
}

fn reports(bytes: &[u8]) -> Result<Vec<Report>> {
    let decoded = Stream::new(bytes).map(|item| item.map(|(kind, bytes)| Report::decode(kind, bytes)));
    Ok(decoded.collect::<Result<Result<Vec<_>, _>, _>>()??)
}

/// Without what the board tells of itself.
fn core_only(all: &[Report]) -> Vec<Report> {
    let of_board =
        |report: &&Report| matches!(report, Report::Event(event) if matches!(event.kind, EventKind::Board(_)));
    all.iter().filter(|report| !of_board(report)).copied().collect()
}

/// Feed stops, trips, gaps and what the board tells, in words.
fn log(all: &[Report]) -> Vec<String> {
    let words = |report: &Report| {
        let Report::Event(event) = report else { return None };
        match event.kind {
            EventKind::Trip { cause, .. } => Some(format!("trip: {cause:?}")),
            EventKind::Alarm { cause, feed_stop: true, .. } => Some(format!("feed stop: {cause:?}")),
            EventKind::Gap { length } => Some(format!("gap of {} frames", length.0 >> 16)),
            EventKind::Board(Notice::Begins(begin)) => Some(format!("begins: {begin:?}")),
            EventKind::Board(notice) => Some(format!("{notice:?}")),
            _ => None,
        }
    };
    all.iter().filter_map(words).collect()
}
