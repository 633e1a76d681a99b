//! `halfglass demo`: an invented ship, end to end.

use super::door::AsOf;
use super::gather::Page;
use super::{Outcome, card, due, handover, plan, pull, reconcile, report};
use crate::link::client::{Client, Patience};
use crate::link::pull::{Options as PullOptions, Pull};
use crate::output::print;
use crate::ship::Folder;
use crate::ship::facts::{self, Condition, Fitting, Known, Reading, Window};
use crate::simulate::invented::folder::{deferral, fill, prepare};
use crate::simulate::invented::{END_MS, Invented, START_MS, Story, WARM_UP_S};
use crate::simulate::pty::Pty;
use crate::simulate::{Cable, Geometry, Options, Simulation};
use crate::store::Store;
use crate::time;
use crate::wear::Sighting;
use crate::{Error, Result};
use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

/// Arguments of `demo`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Where to put the invented ship's folder
    #[arg(long, value_name = "DIR", default_value = "halfglass-demo")]
    pub dir: PathBuf,
    /// Another number invents another history
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
}

/// Runs it.
///
/// # Errors
/// The folder is somebody else's or cannot be written; anything that stops a pull.
pub fn run(args: &Args) -> Result<Outcome> {
    let dir = args.dir.as_path();
    prepare(dir)?;
    let invented = Invented::new(args.seed);
    fill(dir, &invented)?;
    print(&format!(
        "MV Calder Sound is an INVENTED ship: no figure below is from a real ship or a maker's manual.\n\n\
         1. Her loggers: {} to {}, {} stays in port, {} blackouts, one magnetron renewed.\n   \
         The firmware of a real logger runs through all of it, on simulated flash.",
        time::date(START_MS),
        time::date(END_MS),
        invented.stays,
        invented.blackouts
    ))?;
    let simulations = simulate(&invented, args.seed)?;
    let (monthly, new) = import_monthly(dir, &simulations)?;
    print(&format!(
        "   {monthly} monthly pulls kept in {}, {new} records.\n\n\
         2. Today's pull of each logger, through a pseudo-terminal in place of its USB lead:",
        dir.join("dumps").display()
    ))?;
    let mut as_of_ms = END_MS;
    for simulation in simulations {
        as_of_ms = as_of_ms.max(simulation.now_ms());
        pull_today(dir, simulation)?;
    }

    print("\n3. What her officer wrote down:")?;
    import_written(dir)?;

    print("\n4. Which part is due when, as `halfglass due` says it:")?;
    print("")?;
    let as_of = time::rfc3339(as_of_ms);
    due::run(dir, &due::Args { as_of: at(&as_of), ..due::Args::default() })?;
    print("\n5. Which count is true, and why sources differ, as `halfglass reconcile` says it:")?;
    print("")?;
    reconcile::run(dir, &reconcile::Args { as_of: at(&as_of), ..reconcile::Args::default() })?;
    print("\n6. In which stay each part is renewed, as `halfglass plan` says it:")?;
    print("")?;
    plan::run(dir, &plan::Args { as_of: at(&as_of), ..plan::Args::default() })?;
    print(&pages(dir, &as_of)?)?;
    print(&closing(dir, &as_of, invented.renewed_ms))?;
    Ok(Outcome::Fine)
}

/// Runs both loggers, each in a thread of its own.
fn simulate(invented: &Invented, seed: u64) -> Result<Vec<Simulation>> {
    let bar = bar();
    let simulations: Vec<Result<Simulation>> = std::thread::scope(|scope| {
        let run = |story: &Story| {
            let options = Options {
                device_id: story.device_id,
                geometry: Geometry::default(),
                seed: seed ^ story.device_id,
                warm_up_s: WARM_UP_S,
            };
            let mut day_ms = START_MS;
            Simulation::run(&story.lines, &options, &mut |at_ms| {
                let days = (at_ms - day_ms) / 86_400_000;
                day_ms += days * 86_400_000;
                bar.inc(u64::try_from(days).unwrap_or(0));
            })
        };
        let threads: Vec<_> = invented.stories.iter().map(|story| scope.spawn(move || run(story))).collect();
        threads.into_iter().map(|thread| thread.join().unwrap_or_else(|_| Err(broken()))).collect()
    });
    bar.finish_and_clear();
    simulations.into_iter().collect()
}

fn broken() -> Error {
    Error::input("the simulation ended itself", "This is a fault in Halfglass: please report it.")
}

/// Two radars' days.
fn bar() -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(u64::try_from(2 * (END_MS - START_MS) / 86_400_000).unwrap_or(0));
    if let Ok(style) = ProgressStyle::with_template("   {bar:40} {pos} of {len} logger-days") {
        bar.set_style(style);
    }
    bar
}

/// Brings what was pulled month by month into the ship folder; how many dumps and new records.
fn import_monthly(dir: &Path, simulations: &[Simulation]) -> Result<(usize, u32)> {
    let folder = Folder::open(dir)?;
    let mut store = Store::open(&folder.store_path())?;
    let dumps = folder.dumps_path();
    std::fs::create_dir_all(&dumps).map_err(|error| Error::file("make", &dumps, &error))?;
    let (mut count, mut new) = (0, 0);
    for pulled in simulations.iter().flat_map(|simulation| &simulation.pulls) {
        let path = dumps.join(pulled.file_name());
        std::fs::write(&path, &pulled.dump).map_err(|error| Error::file("write", &path, &error))?;
        new += store.import_dump(&pulled.dump, &pulled.file_name())?.records_new;
        let sighting = Sighting::of(pulled.at_ms, &pulled.status);
        store.keep_sighting(pulled.header.device_id, &sighting)?;
        count += 1;
    }
    Ok((count, new))
}

/// The pull that the ship's newest figures come from, by the code behind `halfglass pull --port`.
fn pull_today(dir: &Path, simulation: Simulation) -> Result<()> {
    // The simulated logger's clock stands still at this instant, and so does the host's.
    let now_ms = simulation.now_ms();
    let clock = move || now_ms;
    match Pty::open() {
        Ok(pty) => {
            let served = pty.serve(simulation);
            let args = pull::Args { port: Some(served.port().to_owned()), all: false };
            pull::run_at(dir, &args, &clock).map(|_| ())
        }
        Err(error) => {
            print(&format!(
                "   No pseudo-terminal here ({error}): the same bytes go through memory instead."
            ))?;
            pull_in_memory(dir, simulation, &clock)
        }
    }
}

fn pull_in_memory(dir: &Path, mut simulation: Simulation, clock: &dyn Fn() -> i64) -> Result<()> {
    let folder = Folder::open(dir)?;
    let mut store = Store::open(&folder.store_path())?;
    let mut client = Client::new(Cable::to(&mut simulation), Patience::USUAL);
    let hello = client.hello().map_err(|_| broken())?;
    let pull =
        Pull { client: &mut client, hello, folder: &folder, store: &mut store, clock, watch: &mut |_| {} };
    for done in pull.run(PullOptions { all: false })? {
        let new = done.imported.records_new;
        let path = done.path.display();
        print(&format!("Logger {:016x}: {new} new records; kept as {path}.", hello.device_id))?;
    }
    Ok(())
}

fn import_written(dir: &Path) -> Result<()> {
    let folder = Folder::open(dir)?;
    let settings = folder.settings()?;
    let mut store = Store::open(&folder.store_path())?;
    let known = Known { settings: &settings, clock: &store.clock()? };
    let fittings = facts::read_file::<Fitting>(&dir.join("fittings.csv"), &known)?;
    let readings = facts::read_file::<Reading>(&dir.join("readings.csv"), &known)?;
    let conditions = facts::read_file::<Condition>(&dir.join("conditions.csv"), &known)?;
    let windows = facts::read_file::<Window>(&dir.join("windows.csv"), &known)?;
    let (fittings, readings) = (store.add_all(&fittings)?, store.add_all(&readings)?);
    let (conditions, windows) = (store.add_all(&conditions)?, store.add_all(&windows)?);
    store.add(&deferral(), None)?;
    print(&format!(
        "   ship.toml: {} radars, {} parts with their limits.\n   fittings.csv: {fittings} parts put in.\n   \
         readings.csv: {readings} readings of the radars' own counters.\n   \
         conditions.csv: {conditions} measurements of the tubes.\n   windows.csv: {windows} stays ahead.\n   \
         One renewal was put off, with leave.",
        settings.radars.len(),
        settings.parts.len()
    ))
}

fn at(as_of: &str) -> AsOf {
    AsOf { as_of: Some(as_of.to_owned()) }
}

/// The pages, under names that do not hang on the date.
fn pages(dir: &Path, as_of: &str) -> Result<String> {
    let page = |name: &str| Page { out: Some(dir.join(name)), as_of: at(as_of) };
    report::write(dir, &report::Args { page: page("report.html") })?;
    handover::write(dir, &handover::Args { page: page("handover.html") })?;
    let (radar, part) = ("S-band".to_owned(), "magnetron".to_owned());
    card::write(dir, &card::Args { radar, part, page: page("card.html") })?;
    let dir = dir.display();
    Ok(format!(
        "\n7. The same on paper; any browser opens and prints these:\n\n   \
         {dir}/report.html      everything on one page, with a figure of each radar\n   \
         {dir}/handover.html    one page for the officer who takes over\n   \
         {dir}/card.html        the work card for the S-band magnetron, which is renewed first"
    ))
}

fn closing(dir: &Path, as_of: &str, renewed_ms: i64) -> String {
    let halfglass = std::env::args().next().unwrap_or_else(|| "halfglass".to_owned());
    let before_renewal = time::rfc3339(renewed_ms - 86_400_000);
    let dir = dir.display();
    format!(
        "
In the table of parts read the first column first: `ok` is nothing to do yet, `soon` is order the spare and plan the
work, `deferred` is put off with leave, `overdue` is too late. Every figure says how far it can be trusted, and the notes
say why.

The findings are what was planted: INVENTED.txt tells what really happened, so you can judge each of them.

Halfglass advises, it does not authorise: the maker's manual, the ship's safety management system and
licensed persons come first. Its `isolated` line is never proof of isolation.

The ship's folder is {dir}; {dir}/INVENTED.txt says what each file is.
Four commands to try next (on a real ship none needs --as-of: they answer for now):

  {halfglass} --ship {dir} show
      what the folder holds: dumps, readings and fittings, each fact with its number
  {halfglass} --ship {dir} due --as-of {before_renewal}
      the same table the day before the X-band magnetron was renewed: later facts are not seen
  {halfglass} --ship {dir} due --as-of {as_of} --json
      for programs
  {halfglass} --ship {dir} reconcile --as-of {as_of} --json
      the findings above for programs; `{halfglass} schema reconcile` says how they are written
"
    )
}
