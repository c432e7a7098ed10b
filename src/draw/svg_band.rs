//! What lies under pipes: the band of the index circuit, and the outline of what a plan changes.

use super::scene::Item;
use super::svg::Writer;
use super::svg_path::{number, path};
use svg::node::element::{Group, Path};

impl Writer<'_> {
    /// Below all pipes; in the key no taller than its line.
    pub(crate) fn bands(&self, items: &[Item]) -> Group {
        let mut g = Group::new()
            .set("id", "index-band")
            .set("fill", "none")
            .set("stroke-linecap", "square");
        let (mut on, mut sample) = (String::new(), String::new());
        // what a plan changes has a dashed outline, outside the band where it lies on the index circuit
        let (mut changed, mut both) = (String::new(), String::new());
        let mut changed_sample = String::new();
        for item in items {
            match item {
                Item::Stroke(s) if s.index || s.changed => {
                    let d = path(&s.points, &s.hops, s.hop_radius);
                    if s.changed {
                        let outline = if s.index { &mut both } else { &mut changed };
                        outline.push_str(&d);
                    }
                    if s.index {
                        on += &d;
                    }
                }
                Item::OutlineSample(r) => {
                    let (y, right) = (r.y + r.h / 2.0, r.right());
                    changed_sample = format!("M{} {}H{}", number(r.x), number(y), number(right));
                }
                Item::BandSample(r) => {
                    let (y, half) = (r.y + r.h / 2.0, r.h / 2.0);
                    let (a, b) = (r.x + half, r.right() - half);
                    sample += &format!("M{} {}H{}", number(a), number(y), number(b));
                }
                _ => {}
            }
        }
        let wide = 4.7 * self.scene.scale;
        // in the key no taller than its line
        for (d, wide) in [(on, wide), (sample, wide.min(super::key::BAND))] {
            if d.is_empty() {
                continue;
            }
            for (class, colour, width) in [
                ("b1", self.palette.edge, wide),
                ("b2", self.palette.band, wide - 0.5),
            ] {
                g = g.add(
                    Path::new()
                        .set("class", class)
                        .set("stroke", colour)
                        .set("stroke-width", number(width))
                        .set("d", d.clone()),
                );
            }
        }
        let small = wide.min(super::key::BAND);
        for (d, class, inside, wide) in [
            (changed, "c", self.palette.sheet, wide),
            (both, "b2", self.palette.band, wide),
            (changed_sample, "c", self.palette.sheet, small),
        ] {
            if d.is_empty() {
                continue;
            }
            g = g.add(
                Path::new()
                    .set("class", "n")
                    .set("stroke", self.palette.ink)
                    .set("stroke-width", number(wide))
                    .set("stroke-linecap", "butt")
                    .set("stroke-dasharray", "2.4 1.2")
                    .set("d", d.clone()),
            );
            g = g.add(
                Path::new()
                    .set("class", class)
                    .set("stroke", inside)
                    .set("stroke-width", number(wide - 0.7))
                    .set("stroke-linecap", "butt")
                    .set("d", d),
            );
        }
        g
    }
}
