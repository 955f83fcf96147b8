"""Marks → one streaming PDF file.  No records, no layout, no clock, no randomness.

How it is used, in one process::

    book = Book(dpi=plan.page.dpi, width=plan.page.width, height=plan.page.height, bleed=plan.page.bleed,   # dots
                pieces=intake.pieces, faces=job_faces(job), spots=job.model.spots,
                forms={step.asset: step.marks ...}, art=plan.art, pictures={f"image:{path}": path ...},
                colouring=colouring_of(job), title=job.model.job, created=datetime, identity=bytes_of_a_hash)
    with Writer(folder / "pieces.pdf", book, compression="fast") as writer:      # writes pieces.pdf.part
        renderer = Renderer(book.dpi, writer.names)
        for batch in batches:                                     # any batch size
            contents = renderer.render([side for piece in batch for side in (piece.front, piece.back)])
            writer.add(contents)                                  # uncompressed content streams: front, back, front, …
        finished = writer.finish(renderer.glyphs)                 # fonts, xref; then the file gets its name
    finished.fonts  # {"NotoSans-Bold": "sans-bold", …}: BaseFont without tag → face

An exception inside the `with` removes the part file.  In many processes the parent opens the Writer (which writes
everything that all pieces share), hands `writer.ticket` (picklable) to the workers, and appends their chunks in order::

    chunk = ChunkWriter(path, ticket, first_piece=k * PIECES_IN_GROUP)  # whole groups of 32
    renderer = Renderer(ticket.dpi, ticket.names)
    chunk.add(renderer.render(pages))         # as above; only the file's last chunk may end mid-group
    result = chunk.close(renderer.glyphs)                         # Chunk: picklable, file at result.path
    writer.append(result)                     # parent: copies the bytes, shifts offsets, unites glyphs

The file is byte for byte the same for any split.  `writer.finish()` then needs no glyphs of its own.

Art and pictures (`art`, `pictures`): `art_info(path, page, colouring) -> (size, trim | None)` in points,
`open_art(path, page) -> ArtPage`, `load_picture(path, colouring) -> Picture(width, height, …)`; `colouring` is a
`Colouring` or anything with `.model.colour` and `.file(text, where)` (a Job).  All raise CallerError.

Glyphs used: `{face: {gid: text}}`, united by `unite_glyphs`.  Static runs of marks: FormMark(name, asset) draws
`book.forms[asset]`; ImageMark.asset is a key of `book.art` or `book.pictures`.

Inside, imports go one way: writer > standard > content | fonts | art | pictures > colour > objects.
"""
