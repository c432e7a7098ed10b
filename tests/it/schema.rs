//! The JSON Schema against the reader: one table of keys, and neither knows a key that the other does not.

use pipecarry::survey::keys::{self, Shape};
use pipecarry::survey::{read, schema::schema, starter::starter};
use serde_json::Value;
use std::collections::BTreeSet;

fn parsed() -> Value {
    serde_json::from_str(&schema()).expect("the schema is JSON")
}

fn as_json(file: &str) -> Value {
    // editors hold a TOML date against the schema as text
    let file = file.replace("date = 2026-11-20", "date = \"2026-11-20\"");
    let table: toml::Table = file.parse().expect("TOML");
    serde_json::to_value(table).expect("JSON")
}

#[test]
fn every_file_that_reads_fits_the_schema_and_a_misspelt_key_does_not() {
    let validator = jsonschema::draft202012::new(&parsed()).expect("a valid schema");
    let mut files = vec![
        ("whole".to_owned(), super::reading::WHOLE.to_owned()),
        ("starter".to_owned(), starter().to_owned()),
    ];
    for folder in ["networks", "tests/data/stories"] {
        for entry in std::fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.extension().is_some_and(|e| e == "toml") {
                files.push((
                    path.display().to_string(),
                    std::fs::read_to_string(&path).expect("a file"),
                ));
            }
        }
    }
    assert!(files.len() > 20, "{}", files.len());
    for (name, text) in &files {
        let file = as_json(text);
        let wrong: Vec<String> = validator
            .iter_errors(&file)
            .map(|e| format!("{}: {e}", e.instance_path))
            .collect();
        assert!(wrong.is_empty(), "{name}: {wrong:#?}");
    }
    let misspelt = super::reading::WHOLE.replace("least_flow", "lest_flow");
    assert!(!validator.is_valid(&as_json(&misspelt)));
    let unit_missing =
        super::reading::WHOLE.replace("least_flow = \"12 l/min\"", "least_flow = 12");
    assert!(!validator.is_valid(&as_json(&unit_missing)));
}

#[test]
fn the_whole_example_uses_every_key_of_the_table() {
    // with the test that this file is read without complaint: every key of the table is one that the reader takes
    let whole = as_json(super::reading::WHOLE);
    let mut unused = Vec::new();
    for section in keys::sections() {
        let value = &whole[section.name];
        let tables: Vec<&Value> = match section.shape {
            Shape::Table => vec![value],
            Shape::Named => value
                .as_object()
                .map(|o| o.values().collect())
                .unwrap_or_default(),
            _ if section.name == "fluid" => vec![&whole["exchanger"]["plate"]["fluid"]],
            _ => Vec::new(),
        };
        if value.is_null() {
            unused.push(section.name.to_owned());
        }
        for key in section.keys {
            if !tables.iter().any(|t| t.get(key.name).is_some()) {
                unused.push(format!("{}.{}", section.name, key.name));
            }
        }
    }
    assert!(unused.is_empty(), "{unused:?}");
}

#[test]
fn the_schema_has_the_keys_of_the_table_and_no_others() {
    let schema = parsed();
    let names = |v: &Value| -> BTreeSet<String> {
        v.as_object()
            .map(|o| o.keys().cloned().collect())
            .unwrap_or_default()
    };
    let sections: BTreeSet<String> = keys::sections().map(|s| s.name.to_owned()).collect();
    assert_eq!(names(&schema["properties"]), sections);
    for section in keys::sections() {
        let of = &schema["properties"][section.name];
        let keyed = match section.shape {
            Shape::Table => of,
            Shape::Named => &of["additionalProperties"],
            _ => continue,
        };
        let wanted: BTreeSet<String> = section.keys.iter().map(|k| k.name.to_owned()).collect();
        assert_eq!(names(&keyed["properties"]), wanted, "{}", section.name);
        for key in section.keys {
            assert!(
                keyed["properties"][key.name]["description"].is_string(),
                "{}",
                key.name
            );
        }
    }
}

#[test]
fn every_example_of_the_table_reads() {
    for section in keys::sections() {
        let table: Result<toml::Table, _> = section.example.parse();
        let table = table.unwrap_or_else(|e| panic!("{}: {e}", section.name));
        assert!(table.contains_key(section.name), "{}", section.name);
        for key in section.keys {
            let line = format!("{} = {}", key.name, key.example);
            assert!(line.parse::<toml::Table>().is_ok(), "{line}");
        }
    }
}

#[test]
fn the_starter_reads_without_a_question_and_becomes_a_network() {
    let (survey, found) = read(starter());
    assert!(found.is_empty(), "{found:#?}");
    let survey = survey.expect("it is read");
    let (network, warnings) = pipecarry::network::expand(&survey).expect("it is a house");
    assert!(warnings.is_empty(), "{warnings:#?}");
    assert_eq!(network.emitters.len(), 5);
    let lines = starter().lines().filter(|l| l.len() > 110).count();
    assert_eq!(lines, 0, "lines fit a terminal");
}

/// Puts `text` between the two marks of a document, or says where it differs.
fn holds(document: &str, mark: &str, text: &str) {
    let all = std::fs::read_to_string(document).expect("the document");
    let (begin, end) = (
        format!("<!-- {mark}: begin, generated -->\n"),
        format!("<!-- {mark}: end -->"),
    );
    let (before, rest) = all
        .split_once(&begin)
        .unwrap_or_else(|| panic!("{document} has no mark {begin}"));
    let (old, after) = rest
        .split_once(&end)
        .unwrap_or_else(|| panic!("{document} has no mark {end}"));
    if std::env::var_os("PIPECARRY_BLESS").is_some() {
        std::fs::write(document, format!("{before}{begin}{text}{end}{after}")).expect("written");
    } else {
        assert_eq!(
            old, text,
            "{document}: run this test with PIPECARRY_BLESS=1 and read the difference"
        );
    }
}

#[test]
fn the_readme_explains_every_key_of_the_table() {
    let mut text = String::from("\n");
    for section in keys::sections() {
        text.push_str(&format!(
            "### `{}`\n\n{}\n\n```toml\n{}```\n\n",
            section.name, section.doc, section.example
        ));
        if section.keys.is_empty() {
            continue;
        }
        text.push_str("| key | what it means | for example |\n| --- | --- | --- |\n");
        for key in section.keys {
            let cell = |s: &str| s.replace('|', "\\|");
            text.push_str(&format!(
                "| `{}` | {} | `{}` |\n",
                key.name,
                cell(key.doc),
                cell(key.example)
            ));
        }
        text.push('\n');
    }
    holds("README.md", "keys of the file", &text);
}

#[test]
fn the_developers_page_lists_every_message() {
    let mut text = String::from("\n| code | what is wrong |\n| --- | --- |\n");
    for (code, what) in pipecarry::survey::codes::CODES {
        text.push_str(&format!("| `{code}` | {what} |\n"));
    }
    text.push('\n');
    holds("DEVELOPERS.md", "codes", &text);
}

/// Every field of every result says what it is.
#[test]
fn every_field_of_a_result_is_described() {
    fn undescribed(at: &str, schema: &Value, list: &mut Vec<String>) {
        match schema {
            Value::Object(object) => {
                for (name, field) in object
                    .get("properties")
                    .and_then(Value::as_object)
                    .into_iter()
                    .flatten()
                {
                    if !field["description"].is_string() {
                        list.push(format!("{at}.{name}"));
                    }
                }
                object
                    .iter()
                    .for_each(|(key, value)| undescribed(key, value, list));
            }
            Value::Array(all) => all.iter().for_each(|value| undescribed(at, value, list)),
            _ => {}
        }
    }
    for what in ["upsize", "balance"] {
        let published = super::cli::run("", &["schema", what]).out;
        let schema: Value = serde_json::from_str(&published).expect("JSON");
        let mut list = Vec::new();
        undescribed(what, &schema, &mut list);
        assert!(list.is_empty(), "{what}: {list:#?}");
        assert!(schema["description"].is_string(), "{what}");
    }
}
