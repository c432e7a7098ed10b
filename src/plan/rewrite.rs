//! The changed file: the text as its author wrote it, comments and order kept, with the plan's changes in place.

use super::change::{Change, What, second_name};
use super::offer::same_loss;
use super::site::{Route, Site, settled};
use crate::network::{Network, expand};
use crate::survey::{Survey, leg, read};
use toml_edit::{Array, DocumentMut, Item, TableLike, Value};

/// Keys that say what a rated emitter is.
const KIND: [&str; 5] = ["panel", "rated", "kind", "exponent", "water"];

/// The text with changes made, and a larger drop at one emitter if the plan goes with it.
///
/// # Errors
/// What could not be changed in place, in words.
pub fn rewrite(
    text: &str,
    survey: &Survey,
    changes: &[Change],
    drop: Option<&(String, f64)>,
    planned: &Network,
) -> Result<String, String> {
    let mut doc: DocumentMut = text
        .parse()
        .map_err(|_| "the file is not TOML".to_owned())?;
    let mut changed = survey.clone();
    for change in changes {
        change.apply(&mut changed);
    }
    for change in changes {
        let found = edit(&mut doc, survey, &changed, change);
        found
            .ok_or_else(|| format!("{} stands in no line of its own", change.site.name(survey)))?;
    }
    if let Some((name, k)) = drop {
        pin(&mut doc, name, &["drop"]);
        let table = named(&mut doc, "emitter", name).ok_or("the emitter stands in no line")?;
        put(table, "drop", format!("{k} K"));
    }
    let out = doc.to_string();
    // the file must say what was planned, word for word or not
    let (again, _) = read(&out);
    let again = again.ok_or("the changed file could not be read again")?;
    let (network, _) = expand(&settled(&again)).map_err(|_| "the changed house does not close")?;
    let same = network.graph.edge_count() == planned.graph.edge_count()
        && network
            .element_ids()
            .all(|id| same_loss(&network.element(id).law, &planned.element(id).law))
        && network
            .emitters
            .iter()
            .zip(&planned.emitters)
            .all(|(a, b)| a.law == b.law && a.drop_k == b.drop_k);
    if same {
        Ok(out)
    } else {
        Err("the changed file would not say what was planned".into())
    }
}

/// Makes one change; `None` if its words are not where they are looked for.
fn edit(doc: &mut DocumentMut, old: &Survey, new: &Survey, change: &Change) -> Option<()> {
    let site = change.site;
    let owner = site.owner(old).to_owned();
    match site {
        Site::Pipe(route) | Site::Device(route, ..) => {
            if let What::Beside(_) = &change.what {
                return add_beside(doc, old, new, route);
            }
            lay(doc, old, new, route, &owner)
        }
        Site::Radiator(_) => {
            let What::Radiator(panel) = &change.what else {
                return None;
            };
            pin(doc, &owner, &KIND);
            let table = named(doc, "emitter", &owner)?;
            for key in KIND.iter().filter(|k| **k != "panel") {
                table.remove(key);
            }
            put(table, "panel", panel.words());
            Some(())
        }
        Site::Valve(_) => {
            let What::Valve(word, kv) = &change.what else {
                return None;
            };
            pin(doc, &owner, &["valve", "valve_table"]);
            let table = named(doc, "emitter", &owner)?;
            table.remove("valve_table");
            put(table, "valve", format!("{word} kv {}", kv.0));
            Some(())
        }
    }
}

/// Writes the legs of a line as they are then.
fn lay(doc: &mut DocumentMut, old: &Survey, new: &Survey, route: Route, owner: &str) -> Option<()> {
    let legs: Vec<String> = route.legs(new).iter().map(|(l, _)| leg::print(l)).collect();
    match route {
        Route::Pair(_) | Route::Run(_) => {
            let list = section_of(doc, section(route))?;
            at(list.get_mut(owner)?.as_array_mut()?, 2, legs.first()?)
        }
        Route::Manifold(_) | Route::Cylinder(_) => {
            let table = named(doc, section(route), owner)?;
            put(table, "leg", legs.first()?.clone());
            Some(())
        }
        Route::Ring(_, back, s) => {
            let key = if back { "return" } else { "flow" };
            let list = named(doc, "ring", owner)?.get_mut(key)?.as_array_mut()?;
            at(list, 2 * s + usize::from(back), legs.first()?)
        }
        Route::Loop(_, s) => {
            let list = named(doc, "loop", owner)?.get_mut("main")?.as_array_mut()?;
            at(list, 2 * s, legs.first()?)
        }
        Route::Home(_) => {
            let list = named(doc, "loop", owner)?.get_mut("main")?.as_array_mut()?;
            at(list, list.len().checked_sub(1)?, legs.first()?)
        }
        Route::Between(_) => {
            put(named(doc, "loop", owner)?, "between", legs.first()?.clone());
            Some(())
        }
        Route::Tail(i) => {
            pin(doc, owner, &["leg", "return_leg"]);
            let table = named(doc, "emitter", owner)?;
            put(table, "leg", legs.first()?.clone());
            if old.emitters.get(i)?.return_leg.is_some() {
                put(table, "return_leg", legs.get(1)?.clone());
            }
            Some(())
        }
    }
}

fn section(route: Route) -> &'static str {
    match route {
        Route::Pair(_) => "pair",
        Route::Run(_) => "run",
        Route::Tail(_) => "emitter",
        Route::Manifold(_) => "manifold",
        Route::Cylinder(_) => "cylinder",
        Route::Ring(..) => "ring",
        Route::Loop(..) | Route::Home(_) | Route::Between(_) => "loop",
    }
}

/// Adds the line of a second pipe at the end of the section of the first, with a note of what it runs beside, and its name
/// to the place that is opened for the first.
fn add_beside(doc: &mut DocumentMut, old: &Survey, new: &Survey, route: Route) -> Option<()> {
    let owner = route.owner(old);
    let name = second_name(old, route);
    let (from, to, leg) = match route {
        Route::Pair(_) => {
            let pair = new.pairs.iter().find(|p| p.name.value == name)?;
            (&pair.from.value, &pair.to.value, &pair.leg.value)
        }
        Route::Run(_) => {
            let run = new.runs.iter().find(|r| r.name.value == name)?;
            (&run.from.value, &run.to.value, &run.leg.value)
        }
        _ => return None,
    };
    let mut line: Array = [from.clone(), to.clone(), leg::print(leg)]
        .into_iter()
        .collect();
    line.decor_mut()
        .set_suffix(format!("    # laid beside {owner}"));
    section_of(doc, section(route))?.insert(&name, Item::Value(Value::Array(line)));
    for opening in &old.openings {
        if opening.runs.iter().any(|r| r.value == owner) {
            let runs = named(doc, "opening", &opening.name.value)?.get_mut("runs")?;
            let runs = runs.as_value_mut()?;
            // one run may stand there without brackets
            if let Some(one) = runs.as_str() {
                let list: Array = [one.to_owned()].into_iter().collect();
                let decor = runs.decor().clone();
                *runs = Value::Array(list);
                *runs.decor_mut() = decor;
            }
            runs.as_array_mut()?.push(name.as_str());
        }
    }
    Some(())
}

fn section_of<'d>(doc: &'d mut DocumentMut, section: &str) -> Option<&'d mut dyn TableLike> {
    doc.get_mut(section)?.as_table_like_mut()
}

fn named<'d>(doc: &'d mut DocumentMut, section: &str, name: &str) -> Option<&'d mut dyn TableLike> {
    section_of(doc, section)?.get_mut(name)?.as_table_like_mut()
}

/// Puts a text where a value stood, with the blanks and comments round it.
fn put(table: &mut dyn TableLike, key: &str, text: String) {
    match table.get_mut(key).and_then(Item::as_value_mut) {
        Some(value) => replace(value, text),
        None => {
            // the blank before a closing brace stays before it
            let last = table.iter_mut().last();
            let last = last.and_then(|(_, item)| match item {
                Item::Value(value) => Some(value),
                _ => None,
            });
            let after = last.and_then(|value| {
                let after = value.decor().suffix()?.as_str()?.to_owned();
                let before = after.chars().all(|c| c == ' ');
                before.then(|| value.decor_mut().set_suffix(""))?;
                Some(after)
            });
            let mut value = Value::from(text);
            value.decor_mut().set_prefix(" ");
            value.decor_mut().set_suffix(after.unwrap_or_default());
            table.insert(key, Item::Value(value));
        }
    }
}

fn replace(value: &mut Value, text: String) {
    let decor = value.decor().clone();
    *value = Value::from(text);
    *value.decor_mut() = decor;
}

fn at(list: &mut Array, index: usize, text: &str) -> Option<()> {
    replace(list.get_mut(index)?, text.to_owned());
    Some(())
}

/// Emitters that are like one that changes keep what they had: its old values are written out for them.
fn pin(doc: &mut DocumentMut, name: &str, keys: &[&str]) {
    for key in keys {
        let Some(old) = effective(doc, name, key) else {
            continue;
        };
        let Some(emitters) = section_of(doc, "emitter") else {
            return;
        };
        let like: Vec<String> = emitters
            .iter()
            .filter_map(|(n, item)| {
                let table = item.as_table_like()?;
                let like = table.get("like")?.as_str()?;
                let own = table.contains_key(key);
                // a radiator of another kind of its own takes nothing of its like's kind
                let kind = KIND.contains(key) && KIND.iter().any(|k| table.contains_key(k));
                (like == name && !own && !kind).then(|| n.to_owned())
            })
            .collect();
        for n in like {
            if let Some(table) = named(doc, "emitter", &n) {
                table.insert(key, Item::Value(old.clone()));
            }
        }
    }
}

/// What a key of an emitter is, its own or through `like` and the defaults.
fn effective(doc: &DocumentMut, name: &str, key: &str) -> Option<Value> {
    let emitters = doc.get("emitter")?.as_table_like()?;
    let mut at = name.to_owned();
    // a chain of likes cannot be longer than the emitters are many
    for _ in 0..=emitters.len() {
        let table = emitters.get(&at)?.as_table_like()?;
        if let Some(value) = table.get(key).and_then(Item::as_value) {
            let mut value = value.clone();
            value.decor_mut().clear();
            return Some(value);
        }
        match table.get("like").and_then(Item::as_str) {
            Some(like) => at = like.trim().to_owned(),
            None => break,
        }
    }
    let defaults = doc.get("defaults")?.get("emitter")?.as_table_like()?;
    defaults.get(key).and_then(Item::as_value).cloned()
}
