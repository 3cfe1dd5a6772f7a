//! One settings file while it is read: the faults found so far, and which keys were given or asked for.
//!
//! Faults are collected, not returned one at a time: whoever mends a file sees all of them at once.

use std::cell::RefCell;
use std::collections::BTreeMap;

use toml::de::DeTable;

use super::place::{Lines, nearest};
use super::raw::Table;
use crate::error::Fault;

/// A key's full name and the line it stands on.
pub(crate) type Given = BTreeMap<String, usize>;

/// What reading has brought to light so far.
#[derive(Default)]
pub(crate) struct Log {
    pub(crate) faults: Vec<(usize, Fault)>,
    pub(crate) given: Given,
    /// Every key that was asked for: full name of its table, name.
    pub(crate) known: Vec<(String, &'static str)>,
    pub(crate) unknown: Vec<Unknown>,
}

pub(crate) struct Unknown {
    pub(crate) offset: usize,
    pub(crate) table: String,
    pub(crate) key: String,
    pub(crate) found: String,
}

/// One settings file while it is read.
pub(crate) struct Document<'a> {
    file: &'a str,
    pub(crate) text: &'a str,
    pub(crate) lines: Lines,
    pub(crate) log: RefCell<Log>,
}

impl<'a> Document<'a> {
    /// A document by the name that its faults will bear.
    pub(crate) fn new(file: &'a str, text: &'a str) -> Self {
        Self { file, text, lines: Lines::new(text), log: RefCell::default() }
    }

    /// Reads the whole document with `read`; the keys it does not ask for are faults.
    pub(crate) fn read<T>(&self, root: &DeTable<'_>, read: impl FnOnce(&mut Table<'_>) -> Option<T>) -> Option<T> {
        Table::new(self, String::new(), Some(root), 0).run(read)
    }

    /// All faults in the order of the file, and the keys that were given.
    pub(crate) fn close(self) -> (Vec<Fault>, Given) {
        let Log { mut faults, given, known, unknown } = self.log.into_inner();
        for Unknown { offset, table, key, found } in unknown {
            let full = join(&table, &key);
            let mut fault =
                Fault::new(self.file, format!("{found} is not known")).at(self.lines.place(self.text, offset, &full));
            let here: Vec<&str> = known.iter().filter(|(t, _)| *t == table).map(|(_, k)| *k).collect();
            let elsewhere = known.iter().find(|(t, k)| *k == key && *t != table);
            fault = match (nearest(&key, here.iter().copied()), elsewhere) {
                (_, Some((t, _))) if !t.is_empty() => fault.mend(match t.split_once('[') {
                    Some((list, _)) => format!("{key} belongs under [[{list}]]"),
                    None => format!("{key} belongs under [{t}]"),
                }),
                (Some(near), _) => fault.mend(format!("did you mean {near}?")),
                _ if here.is_empty() => fault.mend("remove it"),
                _ => fault.wanted(here.join(", ")),
            };
            faults.push((offset, fault));
        }
        faults.sort_by_key(|(offset, _)| *offset);
        (faults.into_iter().map(|(_, fault)| fault).collect(), given)
    }

    pub(crate) fn push(
        &self,
        offset: usize,
        key: &str,
        found: impl Into<String>,
        wanted: impl Into<String>,
        mend: &str,
    ) {
        let fault = Fault::new(self.file, found).at(self.lines.place(self.text, offset, key)).wanted(wanted).mend(mend);
        self.log.borrow_mut().faults.push((offset, fault));
    }
}

/// The full name of a key in a table.
pub(crate) fn join(table: &str, key: &str) -> String {
    if table.is_empty() { key.to_owned() } else { format!("{table}.{key}") }
}
