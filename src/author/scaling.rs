//! How the number of a field is shown: what it is multiplied by, and its unit.

/// How a number is shown.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Scaling {
    /// What it is multiplied by, as it was typed.
    pub scale: Option<String>,
    /// What stands behind it.
    pub unit: Option<String>,
}

impl Scaling {
    /// What was typed as one line: `0.1 °C`, `0.1`, `°C`, or nothing.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub fn typed(typed: &str) -> Result<Scaling, String> {
        let typed = typed.trim();
        let (first, rest) = typed.split_once(char::is_whitespace).unwrap_or((typed, ""));
        let begins_number = first.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '+' | '.'));
        if !begins_number {
            return Ok(Scaling { scale: None, unit: Some(typed.to_owned()).filter(|t| !t.is_empty()) });
        }
        let is_scale = first.parse::<f64>().is_ok_and(|n| n.is_finite() && n != 0.0)
            && first.chars().all(|c| c.is_ascii_digit() || matches!(c, '-' | '.'))
            && first.ends_with(|c: char| c.is_ascii_digit())
            && first.starts_with(|c: char| c.is_ascii_digit() || c == '-');
        if !is_scale {
            return Err(format!("{first:?} multiplies nothing; write 0.1, or 0.1 °C"));
        }
        let unit = Some(rest.trim().to_owned()).filter(|t| !t.is_empty());
        Ok(Scaling { scale: Some(first.to_owned()), unit })
    }

    /// The line that [`Scaling::typed`] takes.
    #[must_use]
    pub fn line(&self) -> String {
        let parts = [self.scale.as_deref(), self.unit.as_deref()];
        parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
    }

    /// The entries as a field has them, a comma before each.
    #[must_use]
    pub fn written(&self) -> String {
        let scale = self.scale.as_ref().map(|s| format!(", scale: {s}")).unwrap_or_default();
        let unit = self.unit.as_ref().map(|u| format!(", unit: {u:?}")).unwrap_or_default();
        format!("{scale}{unit}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_holds_a_scale_a_unit_or_both() {
        for (typed, scale, unit) in [
            ("", None, None),
            ("°C", None, Some("°C")),
            ("0.1", Some("0.1"), None),
            ("-0.5  bar g", Some("-0.5"), Some("bar g")),
            ("h of operation", None, Some("h of operation")),
        ] {
            let scaling = Scaling::typed(typed).unwrap();
            assert_eq!((scaling.scale.as_deref(), scaling.unit.as_deref()), (scale, unit), "{typed}");
            assert_eq!(Scaling::typed(&scaling.line()), Ok(scaling));
        }
        for typed in ["0", "1/2 °C", "1e3", ".5", "0.1°C", "+2"] {
            assert!(Scaling::typed(typed).is_err(), "{typed}");
        }
    }
}
