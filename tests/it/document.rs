//! The document: valid HTML, in order, with headed tables and named figures; hostile names inert; nothing from elsewhere;
//! the same bytes every time; Markdown of the same.

use crate::houses::looked_at;
use pipecarry::check::{Study, study};
use pipecarry::network::expand;
use pipecarry::plan::problem::Objective;
use pipecarry::plan::upsize::{Ask, upsize};
use pipecarry::report::document::{Choice, Material, Reader, Section, digest, html, markdown};
use pipecarry::survey::read;
use scraper::{ElementRef, Html, Selector};
use std::collections::BTreeSet;

fn choice(reader: Reader) -> Choice {
    Choice {
        reader,
        sections: reader.sections(),
        state: None,
    }
}

/// The whole document of a house, with what other stages find.
fn document(
    study: &Study,
    source: &str,
    file: &str,
    make: impl FnOnce(&Material<'_>) -> String,
) -> String {
    let (survey, _) = read(source);
    let ask = Ask {
        objective: Objective::Money,
        frontier: false,
        larger_drop: false,
        most_looks: pipecarry::plan::search::MOST_LOOKS,
    };
    let plan = upsize(&survey.unwrap(), ask).map_err(|_| "no answer");
    let balance = pipecarry::balance::balance(&study.network).map_err(|_| "no answer");
    let options = pipecarry::shut::Options {
        lockshields_open: false,
        keep: false,
        ..Default::default()
    };
    let heating = &study.network.states[0];
    let few = pipecarry::shut::valves::closable(&study.network, heating).len() <= 7;
    let shut = match few {
        true => pipecarry::shut::study(&study.network, &options, &|_, _| {}, &|| false).ok(),
        false => None,
    };
    make(&Material {
        study,
        source,
        file,
        shut: shut.as_ref().ok_or("too many"),
        plan: plan.as_ref().map_err(|why| *why),
        balance: balance.as_ref().map_err(|why| *why),
    })
}

/// A document without what other stages find.
fn bare<'a>(study: &'a Study, source: &'a str, file: &'a str) -> Material<'a> {
    Material {
        study,
        source,
        file,
        shut: Err(file),
        plan: Err(file),
        balance: Err(file),
    }
}

fn page(study: &Study, source: &str, reader: Reader) -> String {
    html(&bare(study, source, "house.toml"), &choice(reader))
}

fn source_of(house: &str) -> String {
    std::fs::read_to_string(format!("networks/{house}.toml")).unwrap()
}

fn all<'a>(page: &'a Html, selector: &str) -> Vec<ElementRef<'a>> {
    page.select(&Selector::parse(selector).unwrap()).collect()
}

/// What a checker of pages would say.
fn hold(name: &str, text: &str) {
    let page = Html::parse_document(text);
    assert!(page.errors.is_empty(), "{name}: {:?}", page.errors);
    let mut ids = BTreeSet::new();
    for element in all(&page, "[id]") {
        let id = element.value().id().unwrap();
        assert!(ids.insert(id.to_owned()), "{name}: two have the id {id}");
        assert!(
            !id.is_empty() && !id.contains(char::is_whitespace),
            "{name}: id {id:?}"
        );
    }
    for link in all(&page, "a[href]") {
        let to = link.value().attr("href").unwrap();
        let to = to
            .strip_prefix('#')
            .unwrap_or_else(|| panic!("{name}: {to} leads out"));
        assert!(ids.contains(to), "{name}: #{to} leads nowhere");
        assert!(
            !link.text().collect::<String>().trim().is_empty(),
            "{name}: a link without words"
        );
    }
    for named in all(&page, "[aria-labelledby]") {
        for id in named
            .value()
            .attr("aria-labelledby")
            .unwrap()
            .split_whitespace()
        {
            assert!(ids.contains(id), "{name}: no label {id}");
        }
    }
    // headings begin with one of the first level and leave none out
    let levels: Vec<u8> = all(&page, "h1,h2,h3,h4,h5,h6")
        .iter()
        .map(|h| h.value().name().as_bytes()[1] - b'0')
        .collect();
    assert_eq!(levels.iter().filter(|l| **l == 1).count(), 1, "{name}");
    assert_eq!(levels.first(), Some(&1), "{name}");
    assert!(
        levels.windows(2).all(|w| w[1] <= w[0] + 1),
        "{name}: {levels:?}"
    );
    for table in all(&page, "table") {
        let heads = table
            .select(&Selector::parse("thead th[scope=col]").unwrap())
            .count();
        assert!(heads > 0, "{name}: a table without headings");
        for row in table.select(&Selector::parse("tbody tr").unwrap()) {
            assert_eq!(
                row.children().filter_map(ElementRef::wrap).count(),
                heads,
                "{name}: {}",
                row.html()
            );
            assert_eq!(
                row.select(&Selector::parse("th[scope=row]").unwrap())
                    .count(),
                1,
                "{name}"
            );
        }
        let parent = table.parent().and_then(ElementRef::wrap).unwrap();
        assert!(
            parent.value().classes().any(|c| c == "scroll"),
            "{name}: a table that cannot scroll"
        );
    }
    for figure in all(&page, "figure") {
        assert!(
            !figure
                .value()
                .attr("aria-label")
                .unwrap_or_default()
                .is_empty(),
            "{name}: a figure without words"
        );
        assert_eq!(
            figure
                .select(&Selector::parse("figcaption").unwrap())
                .count(),
            1,
            "{name}"
        );
        assert!(
            figure
                .select(&Selector::parse("svg title").unwrap())
                .next()
                .is_some(),
            "{name}"
        );
    }
    for never in [
        "script",
        "iframe",
        "object",
        "embed",
        "form",
        "link",
        "img",
        "base",
        "foreignObject",
    ] {
        assert!(all(&page, never).is_empty(), "{name}: {never}");
    }
    for element in all(&page, "*") {
        for (attribute, value) in element.value().attrs() {
            assert!(!attribute.starts_with("on"), "{name}: {attribute}");
            let elsewhere = value.contains("://") && !attribute.starts_with("xmlns");
            assert!(
                !elsewhere || attribute.starts_with("aria-"),
                "{name}: {attribute}={value}"
            );
        }
    }
    for style in all(&page, "style") {
        let css: String = style.text().collect();
        assert!(
            !css.contains("url(") && !css.contains("@import"),
            "{name}: {css}"
        );
    }
    assert_eq!(all(&page, "html[lang=en]").len(), 1, "{name}");
    assert_eq!(all(&page, "main").len(), 1, "{name}");
}

#[test]
fn pages_are_valid_and_accessible() {
    for house in ["larch", "hyssop", "bracken", "betony", "teasel"] {
        let study = looked_at(house);
        document(&study, &source_of(house), "house.toml", |material| {
            for reader in [Reader::Client, Reader::Installer, Reader::Reviewer] {
                hold(
                    &format!("{house} {reader:?}"),
                    &html(material, &choice(reader)),
                );
            }
            String::new()
        });
    }
}

#[test]
fn the_checker_sees_what_is_wrong() {
    let good = "<!DOCTYPE html><html lang=\"en\"><title>t</title><main><h1>a</h1></main></html>";
    hold("good", good);
    for (what, bad) in [
        ("unclosed", good.replace("</h1>", "</h2>")),
        (
            "script",
            good.replace("</main>", "<script></script></main>"),
        ),
        ("handler", good.replace("<main>", "<main onclick=\"x\">")),
        (
            "twice",
            good.replace("<h1>", "<p id=\"a\"></p><p id=\"a\"></p><h1>"),
        ),
        (
            "nowhere",
            good.replace("</main>", "<a href=\"#no\">x</a></main>"),
        ),
        ("order", good.replace("</main>", "<h3>c</h3></main>")),
        (
            "table",
            good.replace("</main>", "<table><tr><td>x</td></tr></table></main>"),
        ),
    ] {
        assert!(
            std::panic::catch_unwind(|| hold(what, &bad)).is_err(),
            "{what} passes"
        );
    }
}

#[test]
fn hostile_names_are_inert() {
    let nasty = [
        "<script>alert(1)</script>",
        "</style><img src=x onerror=alert(1)>",
        "\" onload=\"alert(1)",
        "]]><!--",
        "javascript:alert(1)",
        "| a | [x](http://a.test) `b` **c**",
        "\u{202e}gnol",
        "</svg></figure><h1>x",
        "x id=\"fig1-t\"",
    ];
    let plain = source_of("larch");
    for name in nasty {
        let quoted = name.replace('\\', "").replace('"', "\\\"");
        let text = plain
            .replace("Larch Cottage", &quoted)
            .replace("lounge", &format!("\"{quoted}\""));
        let text = text
            .replace(
                "[source.\"heat pump\"]",
                &format!("[source.\"{quoted} pump\"]"),
            )
            .replace("\"heat pump\"", &format!("\"{quoted} pump\""));
        let (survey, found) = read(&text);
        let survey = survey.unwrap_or_else(|| panic!("{name}: {found:#?}"));
        let (network, _) = expand(&survey).unwrap_or_else(|found| panic!("{name}: {found:#?}"));
        let study = study(&network, &Default::default()).unwrap();
        // words of the file reach plan, settings and shut valves by the same ways: one name goes through them, too
        let make = |material: &Material<'_>| {
            for reader in [Reader::Client, Reader::Reviewer] {
                hold(name, &html(material, &choice(reader)));
            }
            markdown(material, &choice(Reader::Reviewer))
        };
        let marked = if name == nasty[5] {
            document(&study, &text, name, make)
        } else {
            make(&bare(&study, &text, name))
        };
        // outside of fences, where no sign means anything, no tag is left but our own anchors
        let mut fenced = false;
        for line in marked.lines() {
            if line.starts_with("```") {
                fenced = !fenced;
            } else if !fenced {
                let bare = line.replace("<a id=\"", "").replace("\"></a>", "");
                assert!(!bare.contains('<'), "{line}");
                assert!(!line.replace("\\]", "").contains("](http"), "{line}");
            }
        }
        assert!(!fenced, "a fence is left open");
    }
}

#[test]
fn the_same_bytes_every_time_and_editions_differ() {
    let study = looked_at("larch");
    let source = source_of("larch");
    let first = page(&study, &source, Reader::Reviewer);
    assert_eq!(first, page(&study, &source, Reader::Reviewer));
    let other = source.replace("1500 W", "1501 W");
    assert_ne!(digest(&source), digest(&other));
    assert!(first.contains(&digest(&source)) && !first.contains(&digest(&other)));
    // the digest of nothing is a published figure (FIPS 180-4 examples)
    assert_eq!(
        digest("abc"),
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    );
}

#[test]
fn key_figures_lead_to_their_traces() {
    let study = looked_at("larch");
    let text = page(&study, &source_of("larch"), Reader::Reviewer);
    let page = Html::parse_document(&text);
    let linked = |caption: &str| {
        let tables = all(&page, "table");
        let table = tables
            .iter()
            .find(|t| t.text().collect::<String>().starts_with(caption))
            .unwrap();
        let rows = table.select(&Selector::parse("tbody tr").unwrap()).count();
        let links = table
            .select(&Selector::parse("tbody th a").unwrap())
            .count();
        assert_eq!(rows, links, "{caption}");
        assert!(rows > 0, "{caption}");
    };
    linked("Runs as duty requires");
    linked("Emitters as the house runs");
    linked("What stands in the way");
}

#[test]
fn what_was_seen_and_measured_is_said() {
    let source = format!(
        "{}\n[evidence]\nseen = [\"primary\", \"lounge\"]\nmeasured = [\"hall\"]\n",
        source_of("larch")
    );
    let (survey, found) = read(&source);
    let (network, _) = expand(&survey.unwrap_or_else(|| panic!("{found:#?}"))).unwrap();
    let study = study(&network, &Default::default()).unwrap();
    let marked = markdown(
        &bare(&study, &source, "larch.toml"),
        &choice(Reader::Reviewer),
    );
    assert!(
        marked.contains("Seen in the house: primary, lounge."),
        "{marked}"
    );
    let row = |name: &str| {
        let found = marked
            .lines()
            .find(|l| l.starts_with(&format!("| [{name}")));
        found
            .unwrap_or_else(|| panic!("{name}: {marked}"))
            .to_owned()
    };
    assert!(
        row("primary F1").contains("| seen |"),
        "{}",
        row("primary F1")
    );
    assert!(row("riser").contains("| stated |"), "{}", row("riser"));
    // and a name that is nowhere is asked about
    let wrong = source.replace("seen = [\"primary\"", "seen = [\"primry\"");
    let (survey, found) = read(&wrong);
    assert!(
        survey.is_none() && found.iter().any(|d| d.code == "unknown-pair"),
        "{found:#?}"
    );
}

#[test]
fn sections_are_those_asked_for() {
    let study = looked_at("larch");
    let source = source_of("larch");
    let material = bare(&study, &source, "larch.toml");
    let choice = Choice {
        reader: Reader::Client,
        sections: vec![Section::Verdict, Section::Cautions],
        state: None,
    };
    let marked = markdown(&material, &choice);
    let heads: Vec<&str> = marked.lines().filter(|l| l.starts_with("## ")).collect();
    assert_eq!(heads, ["## Verdict", "## Before you touch anything"]);
    assert!(marked.contains("It fails"));
}
