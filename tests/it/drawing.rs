//! Scenes: everything once, joined as the network is joined, nothing overlaps, and the sheet says what fails.

use pipecarry::check::{Options, Study, Verdict, study};
use pipecarry::draw::scene::{About, Item, Pt, Scene, Shape, Stroke};
use pipecarry::draw::{self, Level, Style};
use pipecarry::network::{Network, Role};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

pub(crate) fn files(folder: &str, ending: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut all: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the folder is part of the repository")
        .filter_map(|e| Some(e.ok()?.path()))
        .filter(|p| p.extension().is_some_and(|e| e == ending))
        .collect();
    all.sort();
    assert!(!all.is_empty());
    all
}

pub(crate) fn load(path: &Path) -> Network {
    let text = std::fs::read_to_string(path).expect("readable");
    if path.extension().is_some_and(|e| e == "json") {
        return pipecarry::network::reference::load(&text).expect("a case");
    }
    let (survey, problems) = pipecarry::survey::read::read(&text);
    let survey = survey.unwrap_or_else(|| panic!("{}: {problems:?}", path.display()));
    pipecarry::network::expand(&survey)
        .unwrap_or_else(|p| panic!("{}: {p:?}", path.display()))
        .0
}

/// A house of `networks/`.
pub(crate) fn house(name: &str) -> Network {
    load(&Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("networks/{name}.toml")))
}

pub(crate) fn draw_study(network: &Network, found: Option<&Study>, style: &Style) -> Vec<Scene> {
    let required = found.and_then(|s| s.required.first());
    let running = found.and_then(|s| s.running.first());
    let findings = found.map_or(&[][..], |s| &s.findings);
    draw::scene(network, required, running, findings, style)
}

pub(crate) fn strokes(sheet: &Scene) -> Vec<&Stroke> {
    sheet
        .items
        .iter()
        .filter_map(|i| match i {
            Item::Stroke(s) => Some(s),
            _ => None,
        })
        .collect()
}

/// Every run and emitter once over all sheets, every device of the level at most once, and no fault.
pub(crate) fn complete(name: &str, network: &Network, sheets: &[Scene]) {
    assert!(!sheets.is_empty(), "{name}: no sheet");
    let (mut runs, mut emitters) = (BTreeMap::new(), BTreeMap::new());
    let mut devices: BTreeMap<About, usize> = BTreeMap::new();
    for sheet in sheets {
        assert_eq!(sheet.audit.faults(), 0, "{name}: {:?}", sheet.audit);
        for item in &sheet.items {
            match item {
                Item::Stroke(s) => {
                    if let About::Run(i) = s.about {
                        *runs.entry(i).or_insert(0) += 1;
                    }
                }
                Item::Symbol(s) => match s.about {
                    About::Emitter(i) => *emitters.entry(i).or_insert(0) += 1,
                    about @ About::Device(..) => *devices.entry(about).or_insert(0) += 1,
                    _ => {}
                },
                _ => {}
            }
        }
    }
    for (i, run) in network.runs.iter().enumerate() {
        // a pipe that is its emitter is flow until the body and return behind it
        let body = |e: &pipecarry::network::Emitter| run.elements.contains(&e.body);
        let pieces = if network.emitters.iter().any(body) {
            1..=2
        } else {
            1..=1
        };
        assert!(
            runs.get(&i).is_some_and(|n| pieces.contains(n)),
            "{name}: run {} {}: {:?} pieces",
            run.tag,
            run.name,
            runs.get(&i)
        );
    }
    for (i, emitter) in network.emitters.iter().enumerate() {
        assert_eq!(
            emitters.get(&i),
            Some(&1),
            "{name}: emitter {}",
            emitter.name
        );
    }
    for (device, n) in devices {
        assert_eq!(n, 1, "{name}: {device:?} is drawn {n} times");
    }
    // a run is labelled by itself, by its partner, or in the table of loops
    let labelled: BTreeSet<usize> = sheets
        .iter()
        .flat_map(|s| &s.items)
        .filter_map(|i| match i {
            Item::Label(l) => match l.about {
                About::Run(r) => Some(r),
                _ => None,
            },
            _ => None,
        })
        .collect();
    for (i, run) in network.runs.iter().enumerate() {
        let by_partner = run.partner.is_some_and(|p| labelled.contains(&p));
        let in_table = network
            .emitters
            .iter()
            .any(|e| run.elements.contains(&e.body));
        assert!(
            labelled.contains(&i) || by_partner || in_table,
            "{name}: {} has no label",
            run.tag
        );
    }
}

fn key(p: Pt) -> (i64, i64) {
    ((p.x * 20.0).round() as i64, (p.y * 20.0).round() as i64)
}

fn on_stroke(p: Pt, s: &Stroke) -> bool {
    s.points.windows(2).any(|w| {
        let (a, b) = (w[0], w[1]);
        let near = 0.06;
        p.x > a.x.min(b.x) - near
            && p.x < a.x.max(b.x) + near
            && p.y > a.y.min(b.y) - near
            && p.y < a.y.max(b.y) + near
    })
}

/// The ends of the pipes drawn meet where the network's places say, and nowhere else.
pub(crate) fn joined(name: &str, network: &Network, sheets: &[Scene]) {
    // sheets side by side
    let away = |k: usize, p: Pt| Pt {
        x: p.x + 2000.0 * k as f64,
        ..p
    };
    let moved: Vec<Stroke> = sheets
        .iter()
        .enumerate()
        .flat_map(|(k, sheet)| strokes(sheet).into_iter().map(move |s| (k, s)))
        .map(|(k, s)| Stroke {
            points: s.points.iter().map(|p| away(k, *p)).collect(),
            ..s.clone()
        })
        .collect();
    let all: Vec<&Stroke> = moved.iter().collect();
    // drawn: ends of pipes that touch are one, and bars join all that touches them
    let mut ids: BTreeMap<(i64, i64), usize> = BTreeMap::new();
    let mut parent: Vec<usize> = Vec::new();
    fn root(parent: &mut [usize], mut v: usize) -> usize {
        while parent[v] != v {
            parent[v] = parent[parent[v]];
            v = parent[v];
        }
        v
    }
    let mut id = |p: Pt, parent: &mut Vec<usize>| {
        *ids.entry(key(p)).or_insert_with(|| {
            parent.push(parent.len());
            parent.len() - 1
        })
    };
    let ends: Vec<(usize, usize)> = all
        .iter()
        .map(|s| {
            let (a, b) = (s.points[0], s.points[s.points.len() - 1]);
            (id(a, &mut parent), id(b, &mut parent))
        })
        .collect();
    let points: Vec<(usize, Pt)> = all
        .iter()
        .zip(&ends)
        .flat_map(|(s, e)| [(e.0, s.points[0]), (e.1, s.points[s.points.len() - 1])])
        .collect();
    for (k, s) in all.iter().enumerate() {
        let bar = s.about == About::Sheet;
        for &(e, p) in &points {
            if bar && on_stroke(p, s) {
                let (a, b) = (root(&mut parent, ends[k].0), root(&mut parent, e));
                parent[a] = b;
            }
        }
        if bar {
            let (a, b) = (root(&mut parent, ends[k].0), root(&mut parent, ends[k].1));
            parent[a] = b;
        }
    }
    // an off-sheet arrow and its partner are one
    let mut arrows: BTreeMap<About, Vec<usize>> = BTreeMap::new();
    for (k, item) in sheets
        .iter()
        .enumerate()
        .flat_map(|(k, s)| s.items.iter().map(move |i| (k, i)))
    {
        let Item::Symbol(v) = item else { continue };
        if !matches!(v.about, About::Away(..)) {
            continue;
        }
        let r = v.rect.grow(0.1);
        let r = pipecarry::draw::scene::Rect {
            x: r.x + 2000.0 * k as f64,
            ..r
        };
        for (e, p) in &points {
            if p.x > r.x && p.x < r.right() && p.y > r.y && p.y < r.bottom() {
                arrows.entry(v.about).or_default().push(*e);
            }
        }
    }
    for (about, ends) in &arrows {
        assert_eq!(ends.len(), 2, "{name}: {about:?} joins two sheets");
        let (a, b) = (root(&mut parent, ends[0]), root(&mut parent, ends[1]));
        parent[a] = b;
    }
    // ways that name the place at which they go on
    let mut named: Vec<(usize, usize)> = Vec::new();
    for (k, item) in sheets
        .iter()
        .enumerate()
        .flat_map(|(k, s)| s.items.iter().map(move |i| (k, i)))
    {
        let Item::Symbol(v) = item else { continue };
        let About::Place(place) = v.about else {
            continue;
        };
        let r = v.rect.grow(0.1);
        let left = r.x + 2000.0 * k as f64;
        for (e, p) in &points {
            if p.x > left && p.x < left + r.w && p.y > r.y && p.y < r.bottom() {
                named.push((*e, place));
            }
        }
    }
    // a vessel's port goes through it at one height
    let mut bodies: Vec<(usize, pipecarry::draw::scene::Rect)> = Vec::new();
    for (k, item) in sheets
        .iter()
        .enumerate()
        .flat_map(|(k, s)| s.items.iter().map(move |i| (k, i)))
    {
        let Item::Symbol(v) = item else { continue };
        let v = &mut v.clone();
        v.rect.x += 2000.0 * k as f64;
        if let About::Emitter(e) = v.about {
            bodies.push((e, v.rect.grow(0.1)));
        }
        if v.shape != Shape::Vessel {
            continue;
        }
        let at: Vec<(usize, Pt)> = points
            .iter()
            .copied()
            .filter(|(_, p)| v.rect.grow(0.1).x < p.x && p.x < v.rect.grow(0.1).right())
            .filter(|(_, p)| v.rect.y < p.y && p.y < v.rect.bottom())
            .collect();
        for (a, p) in &at {
            for (b, q) in &at {
                if (p.y - q.y).abs() < 0.06 {
                    let (a, b) = (root(&mut parent, *a), root(&mut parent, *b));
                    parent[a] = b;
                }
            }
        }
    }
    // written: places joined by what stands on a pipe rather than between pipes
    let mut place: Vec<usize> = (0..network.graph.node_count()).collect();
    let in_run: BTreeSet<usize> = network
        .runs
        .iter()
        .flat_map(|r| r.elements.iter().map(|e| e.index()))
        .collect();
    let blocks: BTreeSet<usize> = network
        .emitters
        .iter()
        .map(|e| e.body.index())
        .chain(network.sources.iter().map(|s| s.body.index()))
        .chain(network.cylinders.iter().map(|c| c.coil.index()))
        .chain(network.vessels.iter().map(|v| v.body.index()))
        .chain(
            network
                .exchangers
                .iter()
                .flat_map(|x| [x.near.index(), x.far.index()]),
        )
        .collect();
    for e in network.element_ids() {
        let role = network.element(e).role;
        let between = blocks.contains(&e.index()) || matches!(role, Role::Bypass | Role::Mixing);
        if in_run.contains(&e.index()) || (between && role != Role::Vessel) {
            continue;
        }
        if role == Role::Vessel
            && blocks.contains(&e.index())
            && network.vessels.iter().any(|v| {
                v.body == e && !matches!(v.kind, pipecarry::network::VesselKind::Series { .. })
            })
        {
            continue;
        }
        let (a, b) = network.ends(e);
        let (a, b) = (root(&mut place, a.index()), root(&mut place, b.index()));
        place[a] = b;
    }
    let mut by_place: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
    let mut by_point: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
    for (s, e) in all.iter().zip(&ends) {
        let About::Run(i) = s.about else { continue };
        let run = &network.runs[i];
        let (p, q) = (
            root(&mut place, run.from.index()),
            root(&mut place, run.to.index()),
        );
        let (a, b) = (root(&mut parent, e.0), root(&mut parent, e.1));
        // of a pipe in two pieces the inner ends are at its emitter's body
        let inner = |p: Option<&Pt>| {
            let p = p.expect("a stroke has points");
            let dot = pipecarry::draw::scene::Rect {
                x: p.x,
                y: p.y,
                w: 0.0,
                h: 0.0,
            };
            let own = |e: usize| run.elements.contains(&network.emitters[e].body);
            bodies
                .iter()
                .any(|(e, r)| own(*e) && r.overlaps(&dot, -0.01))
        };
        let mut found = [(a, inner(s.points.first())), (b, inner(s.points.last()))];
        if s.against {
            found.reverse();
        }
        for (p, (a, inner)) in [p, q].into_iter().zip(found) {
            if inner {
                continue;
            }
            by_place.entry(p).or_default().insert(a);
            by_point.entry(a).or_default().insert(p);
        }
    }
    for (e, place_named) in named {
        let (e, p) = (root(&mut parent, e), root(&mut place, place_named));
        let at = by_place.entry(p).or_default();
        assert!(
            at.remove(&e),
            "{name}: the way to place {place_named} belongs elsewhere"
        );
        if at.is_empty() {
            at.insert(e);
        }
    }
    for (p, points) in &by_place {
        let name_of = &network.graph[network.place_ids().nth(*p).expect("a place")].name;
        assert_eq!(
            points.len(),
            1,
            "{name}: the pipes at {name_of} do not meet"
        );
    }
    for places in by_point.values() {
        assert_eq!(
            places.len(),
            1,
            "{name}: pipes of {places:?} meet that should not"
        );
    }
}

#[test]
fn every_reference_case_at_every_level() {
    for file in files("tests/data/networks", "json") {
        let name = file
            .file_stem()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let network = load(&file);
        let found = study(&network, &Options::default()).ok();
        for level in [Level::Overview, Level::Normal, Level::Full] {
            let style = Style {
                level,
                ..Style::default()
            };
            let sheets = draw_study(&network, found.as_ref(), &style);
            complete(&format!("{name} {level:?}"), &network, &sheets);
            joined(&format!("{name} {level:?}"), &network, &sheets);
        }
    }
}

#[test]
fn every_house_says_what_fails() {
    for file in files("networks", "toml") {
        let name = file
            .file_stem()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let network = load(&file);
        let found = study(&network, &Options::default()).ok();
        for level in [Level::Overview, Level::Normal, Level::Full] {
            let style = Style {
                level,
                ..Style::default()
            };
            let sheets = draw_study(&network, found.as_ref(), &style);
            complete(&format!("{name} {level:?}"), &network, &sheets);
            joined(&format!("{name} {level:?}"), &network, &sheets);
            let Some(found) = &found else { continue };
            let state = found.required.first().map(|r| r.state);
            for finding in &found.findings {
                let pipecarry::check::Subject::Run(run) = finding.subject else {
                    continue;
                };
                let here = finding.state.is_none() || finding.state == state;
                if here && matches!(finding.verdict, Verdict::Fails | Verdict::Depends) {
                    let marked = sheets
                        .iter()
                        .flat_map(|s| &s.items)
                        .any(|i| matches!(i, Item::Mark(_, _, About::Run(r)) if *r == run));
                    assert!(marked, "{name}: {} carries no mark", network.runs[run].tag);
                }
            }
            // the band runs along the whole index circuit
            if let Some(required) = found.required.first() {
                let on: BTreeSet<usize> = required
                    .circuits
                    .iter()
                    .filter_map(|c| c.paths.get(c.index))
                    .flat_map(|p| p.elements.iter().map(|(e, _)| e.index()))
                    .collect();
                for stroke in sheets.iter().flat_map(strokes) {
                    if let About::Run(r) = stroke.about {
                        let should = network.runs[r]
                            .elements
                            .iter()
                            .any(|e| on.contains(&e.index()));
                        assert_eq!(stroke.index, should, "{name}: {}", network.runs[r].tag);
                    }
                }
            }
        }
    }
}

#[test]
fn the_same_bytes_twice_and_xml_that_reads() {
    for file in files("networks", "toml").into_iter().take(3) {
        let network = load(&file);
        let found = study(&network, &Options::default()).ok();
        let draw = || {
            draw_study(&network, found.as_ref(), &Style::default())
                .iter()
                .map(draw::svg::render)
                .collect::<Vec<_>>()
        };
        let (a, b) = (draw(), draw());
        assert_eq!(a, b);
        let pipes = network.runs.len();
        let mut anchors: Vec<String> = Vec::new();
        for svg in &a {
            let doc = roxmltree::Document::parse(svg).expect("well-formed");
            let ids = doc.descendants().filter_map(|n| n.attribute("id"));
            let here = ids.filter(|i| i.starts_with("run-")).map(str::to_string);
            let before = anchors.len();
            anchors.extend(here);
            let most = 20_000 + 2_000 * (anchors.len() - before);
            assert!(svg.len() < most, "{} bytes", svg.len());
        }
        anchors.sort_unstable();
        anchors.dedup();
        assert_eq!(anchors.len(), pipes, "every run has an anchor of its own");
    }
}
