//! A formula that can be written with its symbols, written with its numbers put in, and worked out from those numbers as
//! written: one thing, so that the three cannot disagree.

use crate::maths;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A formula.
#[derive(Clone, Debug, PartialEq)]
pub enum Expr {
    /// A number of the formula itself, such as 64 or 2.51.
    Number(f64),
    /// π.
    Pi,
    /// A figure of the house under its symbol, SI.
    Symbol(String, f64),
    /// `-a`.
    Minus(Box<Expr>),
    /// Two formulas joined.
    Join(Joint, Box<Expr>, Box<Expr>),
    /// A function of one figure.
    Of(Function, Box<Expr>),
}

/// What joins two formulas.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Joint {
    Plus,
    Minus,
    Times,
    Over,
    Power,
}

/// Functions of one figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Function {
    SquareRoot,
    Log10,
    Ln,
    Exp,
}

impl Joint {
    fn rank(self) -> u8 {
        match self {
            Self::Plus | Self::Minus => 1,
            Self::Times | Self::Over => 2,
            Self::Power => 4,
        }
    }

    fn sign(self) -> &'static str {
        match self {
            Self::Plus => " + ",
            Self::Minus => " - ",
            Self::Times => "*",
            Self::Over => "/",
            Self::Power => "^",
        }
    }
}

impl Function {
    fn word(self) -> &'static str {
        match self {
            Self::SquareRoot => "sqrt",
            Self::Log10 => "log10",
            Self::Ln => "ln",
            Self::Exp => "exp",
        }
    }
}

/// A number of the formula itself.
pub fn n(value: f64) -> Expr {
    Expr::Number(value)
}

/// A figure under its symbol, SI.
pub fn s(symbol: impl Into<String>, value: f64) -> Expr {
    Expr::Symbol(symbol.into(), value)
}

/// A sum of several.
pub fn sum(parts: impl IntoIterator<Item = Expr>) -> Expr {
    parts
        .into_iter()
        .reduce(|a, b| a + b)
        .unwrap_or(Expr::Number(0.0))
}

impl Expr {
    /// To a power.
    pub fn pow(self, exponent: Expr) -> Self {
        Self::Join(Joint::Power, Box::new(self), Box::new(exponent))
    }

    /// Squared.
    pub fn squared(self) -> Self {
        self.pow(n(2.0))
    }

    /// Within a function.
    pub fn of(self, function: Function) -> Self {
        Self::Of(function, Box::new(self))
    }

    /// With symbols: `4*m/(pi*d*mu)`.
    pub fn symbols(&self) -> String {
        let mut out = String::new();
        self.write(&mut out, 0, None);
        out
    }

    /// With numbers of so many significant figures put in, as a calculator takes it.
    pub fn numbers(&self, figures: usize) -> String {
        let mut out = String::new();
        self.write(&mut out, 0, Some(figures));
        out
    }

    /// What the numbers come to, as they are written with so many significant figures.
    pub fn value(&self, figures: usize) -> f64 {
        match self {
            Self::Number(value) => *value,
            Self::Pi => std::f64::consts::PI,
            Self::Symbol(_, value) => digits(*value, figures).parse().unwrap_or(f64::NAN),
            Self::Minus(a) => -a.value(figures),
            Self::Join(joint, a, b) => {
                let (a, b) = (a.value(figures), b.value(figures));
                match joint {
                    Joint::Plus => a + b,
                    Joint::Minus => a - b,
                    Joint::Times => a * b,
                    Joint::Over => a / b,
                    Joint::Power if b == 2.0 => a * a,
                    Joint::Power => maths::pow(a, b),
                }
            }
            Self::Of(function, a) => {
                let a = a.value(figures);
                match function {
                    Function::SquareRoot => a.sqrt(),
                    Function::Log10 => maths::log10(a),
                    Function::Ln => maths::ln(a),
                    Function::Exp => maths::exp(a),
                }
            }
        }
    }

    /// Every symbol with its value, in the order in which they are written.
    pub fn each_symbol(&self, each: &mut impl FnMut(&str, f64)) {
        match self {
            Self::Number(_) | Self::Pi => {}
            Self::Symbol(symbol, value) => each(symbol, *value),
            Self::Minus(a) | Self::Of(_, a) => a.each_symbol(each),
            Self::Join(_, a, b) => {
                a.each_symbol(each);
                b.each_symbol(each);
            }
        }
    }

    fn rank(&self, figures: Option<usize>) -> u8 {
        match self {
            Self::Join(joint, ..) => joint.rank(),
            Self::Minus(_) => 1,
            // a figure below zero brings its sign along
            Self::Symbol(_, value) if figures.is_some() && *value < 0.0 => 1,
            Self::Number(value) if *value < 0.0 => 1,
            Self::Number(_) | Self::Pi | Self::Symbol(..) | Self::Of(..) => 5,
        }
    }

    fn write(&self, out: &mut String, at_least: u8, figures: Option<usize>) {
        let brackets = self.rank(figures) < at_least;
        if brackets {
            out.push('(');
        }
        match (self, figures) {
            (Self::Number(value), _) => out.push_str(&format!("{value}")),
            (Self::Pi, _) => out.push_str("pi"),
            (Self::Symbol(symbol, _), None) => out.push_str(symbol),
            (Self::Symbol(_, value), Some(figures)) => out.push_str(&digits(*value, figures)),
            (Self::Minus(a), _) => {
                out.push('-');
                a.write(out, 2, figures);
            }
            (Self::Join(joint, a, b), _) => {
                let rank = joint.rank();
                let (left, right) = match joint {
                    Joint::Plus | Joint::Times => (rank, rank),
                    Joint::Minus | Joint::Over => (rank, rank + 1),
                    Joint::Power => (rank + 1, rank + 1),
                };
                a.write(out, left, figures);
                out.push_str(joint.sign());
                b.write(out, right, figures);
            }
            (Self::Of(function, a), _) => {
                out.push_str(function.word());
                out.push('(');
                a.write(out, 0, figures);
                out.push(')');
            }
        }
        if brackets {
            out.push(')');
        }
    }
}

/// A number with so many significant figures, without a power of ten, so that any calculator takes it.
pub fn digits(value: f64, figures: usize) -> String {
    if value == 0.0 || !value.is_finite() {
        return "0".into();
    }
    let scientific = format!("{:.*e}", figures.saturating_sub(1), value);
    let power: i32 = scientific
        .split_once('e')
        .and_then(|(_, power)| power.parse().ok())
        .unwrap_or(0);
    let rounded: f64 = scientific.parse().unwrap_or(value);
    let decimals = usize::try_from(figures as i32 - 1 - power).unwrap_or(0);
    let text = format!("{rounded:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

macro_rules! joins {
    ($($name:ident $method:ident $joint:ident;)*) => {$(
        impl $name for Expr {
            type Output = Self;
            fn $method(self, other: Self) -> Self {
                Self::Join(Joint::$joint, Box::new(self), Box::new(other))
            }
        }
    )*};
}

joins! {
    Add add Plus;
    Sub sub Minus;
    Mul mul Times;
    Div div Over;
}

impl Neg for Expr {
    type Output = Self;
    fn neg(self) -> Self {
        Self::Minus(Box::new(self))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn brackets_stand_where_they_change_the_value() {
        let (a, b, c) = (s("a", 2.0), s("b", 3.0), s("c", -4.0));
        for (formula, symbols, numbers, value) in [
            (
                a.clone() - (b.clone() - c.clone()),
                "a - (b - c)",
                "2 - (3 - (-4))",
                -5.0,
            ),
            (
                a.clone() / (b.clone() * c.clone()),
                "a/(b*c)",
                "2/(3*(-4))",
                -1.0 / 6.0,
            ),
            (
                (a.clone() + b.clone()).squared(),
                "(a + b)^2",
                "(2 + 3)^2",
                25.0,
            ),
            (-(a.clone() * b.clone()), "-a*b", "-2*3", -6.0),
            (a.clone() * -b.clone(), "a*(-b)", "2*(-3)", -6.0),
            (
                n(4.0) * a.clone() / (Expr::Pi * b),
                "4*a/(pi*b)",
                "4*2/(pi*3)",
                8.0 / (3.0 * std::f64::consts::PI),
            ),
            (
                a.of(Function::SquareRoot),
                "sqrt(a)",
                "sqrt(2)",
                2f64.sqrt(),
            ),
        ] {
            assert_eq!(formula.symbols(), symbols);
            assert_eq!(formula.numbers(6), numbers);
            assert!((formula.value(6) - value).abs() < 1e-12, "{symbols}");
        }
    }

    #[test]
    fn numbers_are_written_without_powers_of_ten() {
        for (value, figures, text) in [
            (0.0000015, 6, "0.0000015"),
            (123456.789, 4, "123500"),
            (0.430412345, 6, "0.430412"),
            (-20.2, 6, "-20.2"),
            (1000.0, 6, "1000"),
            (0.0, 6, "0"),
        ] {
            assert_eq!(digits(value, figures), text);
        }
    }
}
