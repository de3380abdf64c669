"""The formula behind every figure of a budget.

Law: one entry for each figure that is told, by the name under which it is told; a test holds the two together. D is
dots_per_line, a is memory.accesses_per_dot, B = D - width, W is memory.bytes_per_access. Where the picture has several sizes a
figure is that of the size that is worst for it.
"""

EXPLAIN: dict[str, str] = {
    "fits": (
        "proved: on every line that the registers allow, at every scroll position and with any number of sprites no access of a "
        "layer comes late, and the sprites that per_line and dots_per_line promise find slots. Either each such line was "
        "served, or the bound holds: what is served before a client takes no more than the accesses whose windows meet its "
        "own. Writes in mid-line are left out"
    ),
    "does not fit": "a drawn frame misses accesses or promised sprites: the witness, or the scene that was given",
    "open": "neither: the bound may be too careful, or the lines that miss may never come about",
    "first to give way": "the client of a layer with the fewest slots to spare, or the promised sprites: room - sprites asked",
    "slack": (
        "the least over all lines of the last slot that would serve a burst - the slot of its last access; n to m: n is "
        "proved by the bound, m was found"
    ),
    "asks at most": "groups that a line can touch x accesses for one, of the mode where that is most",
    "slots a line": "floor(D x a)",
    "blank slots": "floor(B x a): over before dot 0",
    "used": (
        "the most over all lines of the kind that were served: refresh, each layer's accesses, and min(accesses that sprites "
        "ask for, slots left for them)"
    ),
    "free": "slots a line - used",
    "cpu": (
        "the fewest over all lines that were served: slots left where cpu.active and cpu.blanking let the CPU in, or reserved "
        "for it"
    ),
    "room": (
        "the fewest over all lines that were served: slots that refresh and the clients before the sprites leave, of those "
        "that the sprites' table entry lets them have"
    ),
    "sprites asked": (
        "the dearest choice of at most per_line (or count) sprites of at most dots_per_line dots: for each max(1, row "
        "bytes / W), of every tile of its row where it is made of tiles, and with the table in memory the rest of its "
        "record; plus the scan of the table"
    ),
    "sprites that fit": "floor((least room over all lines - scan) / accesses of one such sprite)",
    "bytes": "of one: cells x cell_bytes; rows x row bytes; stride x (height - 1) + row bytes; count x record_bytes",
    "most": (
        "in an empty memory, whole, none over another or across its end: maps, pages, bitmaps and sprite tables at addresses "
        "that their registers can hold, tiles, glyphs and sprite patterns by the numbers from one base address, "
        "sprites of tiles with a stride side by side as a scene lays them out"
    ),
    "left": (
        "the same in the bytes that the scene leaves free; tiles, glyphs and sprite patterns by the numbers from one base "
        "address that reaches the scene's own too"
    ),
    "active slots": "the CPU's slots after the blank ones on the line that leaves it fewest, x height",
    "blank beside": "the CPU's blank slots on that line, x height",
    "below": "the CPU's slots on the lines below the picture",
    "bytes a frame": (
        "bytes that land in one frame, from the first line below the picture on, where each line leaves the CPU as far "
        "behind as any can. A byte is at hand cycles_per_byte / clock after the byte before it, or after a place of the "
        "queue (cpu.queue) has come free, whichever is later; a place is held until the slot begins in which its byte lands"
    ),
    "cpu speed": "clock / cycles_per_byte",
    "refill": (
        "lines from the end of the picture until the last byte has landed; what lies on the chip needs no slot: bytes / "
        "cpu speed"
    ),
    "bits": "the product that stands beside it",
    "line rate": "dot_clock / dots_per_line",
    "frame rate": "line rate / lines_per_frame",
}
