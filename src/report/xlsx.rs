//! Schedules as a spreadsheet: a sheet for each table, numbers as numbers with the unit in the heading, words as words
//! whatever they begin with. The same tables give the same bytes: the workbook carries no hour of its own.

use super::MADE_BY;
use super::sheet::{Cell, Sheet};
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet, XlsxError,
};
use std::io::{Cursor, Read};

/// Characters that a cell takes.
const LONGEST: usize = 32_767;

/// Columns of letters beyond which words are wrapped.
const WIDEST: usize = 60;

/// Bytes of a workbook's own description that are read at most.
const DESCRIPTION: u64 = 64 * 1024;

/// Endings of headings: what they say, how many decimals their figures get.
const UNITS: [(&str, &str, usize); 11] = [
    ("_kg_s", "kg/s", 4),
    ("_m3_h", "m³/h", 3),
    ("_pa_m", "Pa/m", 0),
    ("_m_s", "m/s", 2),
    ("_pa", "Pa", 0),
    ("_mm", "mm", 1),
    ("_m", "m", 1),
    ("_c", "°C", 1),
    ("_k", "K", 1),
    ("_w", "W", 0),
    ("_l", "l", 1),
];

/// The tables as one workbook.
///
/// # Errors
/// Words on what a spreadsheet cannot hold, such as more than a million rows.
pub fn workbook(sheets: &[Sheet]) -> Result<Vec<u8>, String> {
    written(sheets).map_err(|error| error.to_string())
}

fn written(sheets: &[Sheet]) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let hour = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(
        &DocProperties::new()
            .set_comment(MADE_BY)
            .set_creation_datetime(&hour),
    );
    for sheet in sheets {
        let page = book.add_worksheet();
        page.set_name(sheet.name)?;
        fill(page, sheet)?;
    }
    book.save_to_buffer()
}

fn fill(page: &mut Worksheet, sheet: &Sheet) -> Result<(), XlsxError> {
    let top = Format::new().set_text_wrap().set_align(FormatAlign::Top);
    let head = top
        .clone()
        .set_bold()
        .set_border_bottom(FormatBorder::Thin)
        .set_align(FormatAlign::Top);
    for (column, name) in (0u16..).zip(sheet.heads) {
        let (words, unit) = heading(name);
        page.write_string_with_format(0, column, &words, &head)?;
        let number = Format::new().set_align(FormatAlign::Top);
        let number = match unit {
            Some(0) => number.set_num_format("0"),
            Some(decimals) => number.set_num_format(format!("0.{}", "0".repeat(decimals))),
            None => number,
        };
        let mut widest = words.chars().count().min(16);
        for (line, row) in (1u32..).zip(&sheet.rows) {
            let Some(cell) = row.get(usize::from(column)) else {
                continue;
            };
            match cell {
                Cell::Text(text) => {
                    let text: String = text.chars().take(LONGEST).collect();
                    widest = widest.max(text.chars().count());
                    page.write_string_with_format(line, column, &text, &top)?;
                }
                Cell::Number(value) => {
                    page.write_number_with_format(line, column, *value, &number)?;
                }
                Cell::Count(count) => {
                    page.write_number_with_format(line, column, *count as f64, &number)?;
                }
                Cell::Flag(flag) => {
                    page.write_boolean(line, column, *flag)?;
                }
                Cell::Nothing => {}
            }
        }
        page.set_column_width(column, widest.clamp(9, WIDEST) as f64 + 1.0)?;
    }
    page.set_freeze_panes(1, 1)?;
    page.set_landscape();
    page.set_paper_size(9); // A4
    page.set_print_fit_to_pages(1, 0);
    page.set_repeat_rows(0, 0)?;
    Ok(())
}

/// `required_flow_kg_s` as `required flow, kg/s`, and how many decimals its figures get.
fn heading(name: &str) -> (String, Option<usize>) {
    for (ending, unit, decimals) in UNITS {
        if let Some(words) = name.strip_suffix(ending) {
            return (
                format!("{}, {unit}", words.replace('_', " ")),
                Some(decimals),
            );
        }
    }
    (name.replace('_', " "), None)
}

/// Whether bytes are a workbook that this program made.
pub fn is_ours(bytes: &[u8]) -> bool {
    let Ok(mut archive) = zip::ZipArchive::new(Cursor::new(bytes)) else {
        return false;
    };
    let Ok(part) = archive.by_name("docProps/core.xml") else {
        return false;
    };
    let mut text = String::new();
    let read = part.take(DESCRIPTION).read_to_string(&mut text);
    read.is_ok() && text.contains("<dc:description>Made by pipecarry ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_say_their_unit() {
        for (name, words, decimals) in [
            ("required_flow_kg_s", "required flow, kg/s", Some(4)),
            ("kv_m3_h", "kv, m³/h", Some(3)),
            ("required_gradient_pa_m", "required gradient, Pa/m", Some(0)),
            ("length_m", "length, m", Some(1)),
            ("bore_mm", "bore, mm", Some(1)),
            ("for_pipe", "for pipe", None),
        ] {
            assert_eq!(heading(name), (words.to_owned(), decimals));
        }
    }
}
