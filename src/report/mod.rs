//! What a study says, as text, JSON and CSV.
