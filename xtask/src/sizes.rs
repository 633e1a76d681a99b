//! How much flash and RAM each board takes, held against `boards/budgets.toml`.

use crate::firmware::{Firmware, target_folder};
use crate::root;
use anyhow::{Context, Result, bail};
use comfy_table::Table;
use object::{Object, ObjectSection, SectionFlags, SectionKind};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::{fs, time::SystemTime};

/// What a board may take.
#[derive(Clone, Copy, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Budget {
    /// Flash of the firmware itself.
    pub flash_bytes_max: u64,
    /// Static RAM and the stack's high water together.
    pub ram_bytes_max: u64,
}

/// What a board takes.
#[derive(Clone, Debug, Serialize)]
pub struct Row {
    /// The board.
    pub board: String,
    /// Flash of the firmware itself.
    pub flash_bytes: u64,
    /// RAM that is taken before the first call.
    pub static_ram_bytes: u64,
    /// The stack's high water as the emulator tests last measured it on this very image.
    pub stack_bytes: Option<u64>,
    /// What it may take.
    pub budget: Budget,
}

impl Row {
    /// What is exceeded, in words; empty if nothing is.
    #[must_use]
    pub fn excess(&self) -> Vec<String> {
        let ram = self.static_ram_bytes + self.stack_bytes.unwrap_or(0);
        [("flash", self.flash_bytes, self.budget.flash_bytes_max), ("RAM", ram, self.budget.ram_bytes_max)]
            .into_iter()
            .filter(|(_, used, max)| used > max)
            .map(|(what, used, max)| format!("{}: {used} bytes of {what}, budget {max}", self.board))
            .collect()
    }
}

/// The budget of every board.
///
/// # Errors
/// The file is missing or makes no sense.
pub fn budgets() -> Result<BTreeMap<String, Budget>> {
    let path = root().join("boards/budgets.toml");
    let text = fs::read_to_string(&path).with_context(|| format!("could not read {}", path.display()))?;
    toml::from_str(&text).with_context(|| format!("{} makes no sense", path.display()))
}

/// Flash and static RAM of an image, in bytes.
///
/// # Errors
/// It is no ELF file.
pub fn of_image(path: &Path) -> Result<(u64, u64)> {
    let bytes = fs::read(path).with_context(|| format!("could not read {}", path.display()))?;
    let file = object::File::parse(&*bytes).with_context(|| format!("{} is no ELF file", path.display()))?;
    let (mut flash, mut ram) = (0, 0);
    for section in file.sections() {
        let SectionFlags::Elf { sh_flags } = section.flags() else { continue };
        if sh_flags & u64::from(object::elf::SHF_ALLOC) == 0 {
            continue;
        }
        let writable = sh_flags & u64::from(object::elf::SHF_WRITE) != 0;
        let blank = section.kind() == SectionKind::UninitializedData;
        if writable {
            ram += section.size();
        }
        if !blank {
            flash += section.size();
        }
    }
    Ok((flash, ram))
}

/// Keeps a measured stack high water beside the image that it was measured on.
///
/// # Errors
/// The file cannot be written.
pub fn keep_stack(firmware: Firmware, bytes: u64) -> Result<()> {
    let path = stack_file(firmware);
    fs::write(&path, format!("{bytes}\n")).with_context(|| format!("could not write {}", path.display()))
}

fn stack_file(firmware: Firmware) -> PathBuf {
    target_folder().join(format!("{}.stack", firmware.name()))
}

fn kept_stack(firmware: Firmware) -> Option<u64> {
    let modified = |path: &Path| fs::metadata(path).and_then(|data| data.modified()).ok();
    let measured: SystemTime = modified(&stack_file(firmware))?;
    let built = modified(&firmware.image())?;
    if measured < built { None } else { fs::read_to_string(stack_file(firmware)).ok()?.trim().parse().ok() }
}

/// Builds every board that has a budget and shows what it takes.
///
/// # Errors
/// A board does not build or exceeds its budget.
pub fn show(json: bool) -> Result<()> {
    let mut rows = Vec::new();
    for (name, budget) in budgets()? {
        let firmware = Firmware::BOARDS
            .into_iter()
            .find(|firmware| firmware.name() == name)
            .with_context(|| format!("boards/budgets.toml names a board that there is not: {name}"))?;
        let (flash_bytes, static_ram_bytes) = of_image(&firmware.build()?)?;
        rows.push(Row {
            board: name,
            flash_bytes,
            static_ram_bytes,
            stack_bytes: kept_stack(firmware),
            budget,
        });
    }
    if json {
        println!("{}", serde_json::to_string_pretty(&rows)?);
    } else {
        println!("{}", table(&rows));
    }
    let excess: Vec<_> = rows.iter().flat_map(Row::excess).collect();
    if !excess.is_empty() {
        bail!("over budget:\n  {}", excess.join("\n  "));
    }
    Ok(())
}

fn table(rows: &[Row]) -> Table {
    let mut table = Table::new();
    table.set_header(["board", "flash, bytes", "of", "static RAM", "stack", "together", "of"]);
    for row in rows {
        let stack = row.stack_bytes.map_or("not measured".to_owned(), |bytes| bytes.to_string());
        table.add_row([
            row.board.clone(),
            row.flash_bytes.to_string(),
            row.budget.flash_bytes_max.to_string(),
            row.static_ram_bytes.to_string(),
            stack,
            (row.static_ram_bytes + row.stack_bytes.unwrap_or(0)).to_string(),
            row.budget.ram_bytes_max.to_string(),
        ]);
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn excess_is_named() {
        let budget = Budget { flash_bytes_max: 100, ram_bytes_max: 50 };
        let row =
            Row { board: "b".into(), flash_bytes: 100, static_ram_bytes: 20, stack_bytes: None, budget };
        assert!(row.excess().is_empty());
        let row = Row { flash_bytes: 101, stack_bytes: Some(31), ..row };
        assert_eq!(row.excess(), ["b: 101 bytes of flash, budget 100", "b: 51 bytes of RAM, budget 50"]);
    }

    #[test]
    fn every_budget_can_be_read() {
        let budgets = budgets().unwrap();
        assert!(Firmware::BOARDS.iter().all(|board| budgets.contains_key(board.name())));
    }
}
