//! How the page looks: on light and dark screens, narrow ones, and paper.

use crate::report::svg;
use crate::report::text;

/// Style of the page, its colours left aside.
pub(super) const STYLE: &str = "\
*{box-sizing:border-box}\n\
body{font:15px/1.5 system-ui,'DejaVu Sans',Arial,sans-serif;background:var(--page);color:var(--ink);\
max-width:62em;margin:0 auto;padding:1.5em 1em;overflow-wrap:anywhere}\n\
h1{font-size:1.6em;line-height:1.25;margin:0 0 .3em} h2{font-size:1.2em;margin:2em 0 .5em;\
border-bottom:2px solid var(--line);padding-bottom:.2em} h3{font-size:1em;margin:1.4em 0 .3em} p{margin:.4em 0}\n\
.lead{font-size:1.1em} .quiet,time{color:var(--quiet);font-weight:400} ul{margin:.4em 0;padding-left:1.3em}\n\
code,.hex{font-family:ui-monospace,'DejaVu Sans Mono',Consolas,monospace;font-size:.88em}\n\
dl{display:grid;grid-template-columns:max-content 1fr;gap:.2em 1.2em;margin:.6em 0} dt{color:var(--quiet)} dd{margin:0}\n\
.sound{color:var(--sound)} .doubtful,.doubt{color:var(--doubt)} .unsound,.fault{color:var(--fault)}\n\
.verdict{font-weight:700} .advice{font-style:italic}\n\
.cautions{border-left:4px solid var(--doubt);padding:.1em 0 .1em 1em;margin:1.2em 0} .cautions h2{border:0;margin:.2em 0}\n\
svg{display:block;max-width:100%;height:auto;margin:.4em 0} .bar{fill:var(--dense)} .mark{fill:var(--fault)} \
.base{stroke:var(--ink)}\n\
table{border-collapse:collapse;width:100%;margin:.5em 0} caption{text-align:left;color:var(--quiet);padding:.2em 0}\n\
th,td{text-align:left;vertical-align:baseline;padding:.25em .9em .25em 0;border-bottom:1px solid var(--line)}\n\
th{color:var(--quiet);font-weight:600} td.at,td.ruling{white-space:nowrap} td.hex{min-width:6em}\n\
footer{margin-top:2.5em;border-top:1px solid var(--line);padding-top:.5em}\n\
@media screen and (max-width:40em){dl{display:block} dd{margin:0 0 .4em} thead{display:none} table,caption,tbody,tr{display:block;width:auto}\
 tr{border-bottom:1px solid var(--line);padding:.5em 0} td{display:inline-block;border:0;padding:0 .8em 0 0}\
 td[data-is]::before{content:attr(data-is) ' ';color:var(--quiet);font-family:system-ui,sans-serif}\
 td:empty{display:none}}\n\
@media print{body{max-width:none;padding:0;font-size:10.5pt} h2,h3{break-after:avoid} .short,figure,tr,li,dl,.cautions{break-inside:avoid}\
 thead{display:table-header-group} th,td{padding-top:.12em;padding-bottom:.12em} p{orphans:3;widows:3} svg{print-color-adjust:exact}}\n\
";

/// The colours of the page in the light and in the dark; paper is light.
pub(super) fn colours() -> String {
    let set = |p: &svg::Palette| {
        format!(
            "--page:{};--ink:{};--quiet:{};--line:{};--dense:{};--sound:{};--doubt:{};--fault:{}",
            p.page, p.ink, p.quiet, p.line, p.dense, p.sound, p.doubt, p.fault
        )
    };
    format!(
        ":root{{color-scheme:light dark;{}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{}}}}}\n\
         @media print{{:root{{color-scheme:light;--page:#fff}}}}\n",
        set(&svg::LIGHT),
        set(&svg::DARK)
    )
}

/// Margins of paper, and what stands in them: whose record it is, and which page.
pub(super) fn paper(heading: &str) -> String {
    // A letter may stand as it is in a text of a style sheet, everything else by its number (CSS Syntax Level 3, 4.3.7).
    let heading: String = text::cut(&text::clean(heading), 70)
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c.to_string() } else { format!("\\{:X} ", u32::from(c)) })
        .collect();
    format!(
        "@page{{margin:16mm 15mm 20mm;@bottom-left{{content:\"{heading}\";font:8pt sans-serif;color:#444}}\
         @bottom-right{{content:\"page \" counter(page) \" of \" counter(pages);font:8pt sans-serif;color:#444}}}}\n"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_heading_stays_a_text_in_the_margin_of_paper() {
        let css = paper("a\"; } </style><script>x");
        assert!(!css.contains("</style") && !css.contains("<script"), "{css}");
        assert!(css.contains("content:\"a\\22 \\3B \\20 \\7D "), "{css}");
    }
}
