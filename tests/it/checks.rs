//! Reading the reference tables in `tests/checks`.

use std::path::Path;

/// The rows of a table by column name. Fields may be quoted; a quoted field holds commas and no quotes.
pub(crate) struct Table {
    head: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    pub(crate) fn read(name: &str) -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("tests/checks")
            .join(name);
        let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{name}: {e}"));
        let mut lines = text.lines().map(fields);
        let head = lines.next().expect("a first line");
        let rows: Vec<_> = lines.filter(|r| r.len() == head.len()).collect();
        assert!(!rows.is_empty(), "{name} has rows");
        Self { head, rows }
    }

    pub(crate) fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|fields| Row {
            head: &self.head,
            fields,
        })
    }
}

pub(crate) struct Row<'a> {
    head: &'a [String],
    fields: &'a [String],
}

impl Row<'_> {
    pub(crate) fn text(&self, column: &str) -> &str {
        let i = self.head.iter().position(|h| h == column);
        &self.fields[i.unwrap_or_else(|| panic!("no column {column}"))]
    }

    /// A number; "1 2/3" is read as it is written.
    pub(crate) fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        let parts = text
            .split_whitespace()
            .map(|part| match part.split_once('/') {
                Some((n, d)) => n.parse::<f64>().unwrap() / d.parse::<f64>().unwrap(),
                None => part.parse().unwrap_or_else(|_| panic!("{column}: {text}")),
            });
        parts.sum()
    }
}

fn fields(line: &str) -> Vec<String> {
    let mut out = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => out.push(String::new()),
            c => out.last_mut().unwrap().push(c),
        }
    }
    out
}
