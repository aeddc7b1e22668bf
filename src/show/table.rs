//! Columns of text for the console.

use std::io::{self, Write};

/// Columns as wide as they need, in 80 columns; what is longer is cut.
pub(crate) fn table<const N: usize>(
    out: &mut impl Write,
    heading: [&str; N],
    rows: impl Iterator<Item = [String; N]>,
) -> io::Result<()> {
    let rows: Vec<[String; N]> = std::iter::once(heading.map(str::to_owned)).chain(rows).collect();
    let mut widths = [0; N];
    for row in &rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(cell.chars().count());
        }
    }
    // The widest column gives way until all fit.
    while widths.iter().map(|width| width + 2).sum::<usize>() > 81 {
        let Some(widest) = widths.iter_mut().max() else { break };
        *widest -= 1;
    }
    for row in &rows {
        let mut line = String::new();
        for (cell, &width) in row.iter().zip(&widths) {
            let shown: String = if cell.chars().count() > width {
                cell.chars().take(width.saturating_sub(1)).chain(['…']).collect()
            } else {
                cell.clone()
            };
            line.push_str(&format!("{shown:<width$}  "));
        }
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}
