//! Findings, fields, checks and change lists as text and as JSON.
