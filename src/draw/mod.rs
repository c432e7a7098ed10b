//! The annotated schematic: layout → scene → SVG.
