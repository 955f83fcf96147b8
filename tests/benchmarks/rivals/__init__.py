"""The same letter by general-purpose means: what `vdp` is measured against.

    straight   reportlab as its own guide teaches it
    tuned      reportlab with forms, raw path operators and binary streams; the QR encoder is segno's or a lent one
    overlay    reportlab for what a record changes, merged by pypdf onto the background, which is opened for each record
    typeset    typst, fed with JSON

All draw the art that `letter.draw` draws, the texts and places that `letter.design` reads from the layout, K-only text
and codes, and the hidden text and code in Clear: a Separation colour that overprints in reportlab, plain magenta in
typst, which has no spot colours.  Files are compressed in each library's own way.
"""
