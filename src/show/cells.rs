//! Cells of CSV files that people open in a spreadsheet.

/// Keeps a spreadsheet from taking text for a formula: an apostrophe goes before it. The signs are those that OWASP's page
/// "CSV Injection" names, the full-width ones too.
pub(super) fn guarded(cell: &str) -> String {
    let is_formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']);
    if is_formula { format!("'{cell}") } else { cell.to_string() }
}
