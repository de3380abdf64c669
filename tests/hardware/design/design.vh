// What all modules of the design count with: the folder's constants and what follows from them.
// A module's body includes it.
//
// Waivers, of all modules: constants are 32 bits wide wherever they stand, and what they are
// compared with is not (WIDTH); no module asks for all of them (UNUSEDPARAM); what one chip has no
// use for stays unused, and a comparison with a number that is 0 there is constant (UNUSEDSIGNAL,
// UNSIGNED); working variables of a clocked block are assigned at once (BLKSEQ); a helper stands
// in the file of the module that it helps (DECLFILENAME); the function below stands in every module
// (VARHIDDEN).
/* verilator lint_off UNUSEDPARAM */
/* verilator lint_off WIDTH */
/* verilator lint_off UNUSEDSIGNAL */
/* verilator lint_off UNSIGNED */
/* verilator lint_off BLKSEQ */
/* verilator lint_off DECLFILENAME */
/* verilator lint_off VARHIDDEN */
`include "constants.svh"
localparam integer TICKS = FRAME_DOTS_PER_LINE * MEMORY_RATE_ACCESSES;   // of a line
localparam integer TICKS_SHOWN = FRAME_WIDTH * MEMORY_RATE_ACCESSES;
localparam integer BLANK_DOTS = FRAME_DOTS_PER_LINE - FRAME_WIDTH;
localparam [1:0] LINE_IDLE = 2'd0;
localparam [1:0] LINE_EMPTY = 2'd1;
localparam [1:0] LINE_FRAME = 2'd2;
// the CPU's time is counted in parts of a tick
localparam integer CPU_UNITS = CPU_PACED ? CPU_BYTE_DOTS_UNDER : 1;
localparam integer CPU_LOOP = CPU_PACED ? CPU_BYTE_DOTS_OVER * MEMORY_RATE_ACCESSES : 0;
localparam integer BUS_BITS = 8 * MEMORY_ACCESS_BYTES;                  // of an access
localparam integer DOT_BITS = $clog2(FRAME_WIDTH);
localparam integer ADDRESS_BITS = $clog2(MEMORY_SIZE);
// accesses that a group of mode n takes for WHAT_ `what`; 0 where the mode asks for no such thing
function integer accesses_of;
  input integer n, what;
  integer each;
  begin
    accesses_of = 0;
    each = MODES_ROW_BYTES[32*n +: 32] / MEMORY_ACCESS_BYTES;
    case (what)
      WHAT_CELLS: if (MODES_KIND[32*n +: 32] != KIND_BITMAP)
        accesses_of = MODES_CELL_BYTES[32*n +: 32] < MEMORY_ACCESS_BYTES ? 1
            : MODES_CELL_BYTES[32*n +: 32] / MEMORY_ACCESS_BYTES;
      WHAT_PATTERN: if (MODES_KIND[32*n +: 32] == KIND_TILES) accesses_of = MODES_ROW_ACCESSES[32*n +: 32];
      WHAT_GLYPHS: if (MODES_KIND[32*n +: 32] == KIND_TEXT) accesses_of = 1;
      WHAT_COLOURS: if (MODES_KIND[32*n +: 32] == KIND_BITMAP && MODES_BLOCK_X[32*n +: 32] != ~32'd0) begin
        each = MODES_GROUP_DOTS[32*n +: 32] / MODES_BLOCK_X[32*n +: 32] * MODES_COLOUR_BYTES[32*n +: 32];
        accesses_of = each < MEMORY_ACCESS_BYTES ? 1 : each / MEMORY_ACCESS_BYTES;
      end
      WHAT_BITMAP: if (MODES_KIND[32*n +: 32] == KIND_BITMAP)
        accesses_of = MODES_GROUP_DOTS[32*n +: 32] * MODES_BITS_PER_DOT[32*n +: 32] / 8 / MEMORY_ACCESS_BYTES;
    endcase
  end
endfunction
function integer most_accesses;        // of any group
  input integer least;
  integer n, what;
  begin
    most_accesses = least;
    for (n = 0; n < MODES; n = n + 1)
      for (what = 0; what < 5; what = what + 1)
        if (accesses_of(n, what) > most_accesses) most_accesses = accesses_of(n, what);
  end
endfunction
// what is known of a group after its fetch: one bit for `missed`, then its bytes, a cell's at least
localparam integer KEPT = 1 + (most_accesses(1) * BUS_BITS > 16 ? most_accesses(1) * BUS_BITS : 16);
// how often the planes of mode n begin anew in memory: 1 where the bits of a dot lie in one row
function integer plane_rows;
  input integer n;
  plane_rows = MODES_PLANES[32*n +: 32] == PLANES_BY_PATTERN || MODES_PLANES[32*n +: 32] == PLANES_APART
      ? MODES_BITS_PER_DOT[32*n +: 32] : 1;
endfunction
// bits of a text's colours, and of banks, that stand in registers: the scanner says them with each dot
function integer bits_of;
  input [31:0] top;
  integer n;
  begin
    bits_of = 0;
    for (n = 0; n < 16; n = n + 1) if (top[n]) bits_of = n + 1;
  end
endfunction
function integer colour_bits;
  input [31:0] least;
  integer n;
  reg [31:0] top;
  begin
    top = least;
    for (n = 0; n < MODES; n = n + 1) begin
      if (MODES_FOREGROUND[32*n +: 32] != ~32'd0) top = top | CONTROLS_TOP[32*MODES_FOREGROUND[32*n +: 32] +: 32];
      if (MODES_BACKGROUND[32*n +: 32] != ~32'd0) top = top | CONTROLS_TOP[32*MODES_BACKGROUND[32*n +: 32] +: 32];
    end
    colour_bits = bits_of(top);
  end
endfunction
function integer bank_bits;
  input [31:0] least;
  integer n;
  reg [31:0] top;
  begin
    top = least;
    for (n = 0; n < LAYERS; n = n + 1)
      if (LAYERS_BANK[32*n +: 32] != ~32'd0) top = top | CONTROLS_TOP[32*LAYERS_BANK[32*n +: 32] +: 32];
    bank_bits = bits_of(top);
  end
endfunction
// bits of a position in a surface before it is taken modulo the surface's span: a dot or line of the
// picture and a scroll position, which may have been set to anything that its field holds
function integer scrolled_bits;
  input integer least;
  integer n;
  reg [31:0] top;
  begin
    top = 4095;                        // of a dot or a line
    for (n = 0; n < LAYERS; n = n + 1) begin
      if (LAYERS_SCROLL_X[32*n +: 32] != ~32'd0) top = top | CONTROLS_TOP[32*LAYERS_SCROLL_X[32*n +: 32] +: 32];
      if (LAYERS_SCROLL_Y[32*n +: 32] != ~32'd0) top = top | CONTROLS_TOP[32*LAYERS_SCROLL_Y[32*n +: 32] +: 32];
    end
    scrolled_bits = least + $clog2(top);
  end
endfunction
localparam integer SCROLLED = scrolled_bits(1);
localparam integer COLOUR_SAID = colour_bits(0);
localparam integer BANK_SAID = bank_bits(0);
// what the scanner says of a dot of a layer: kind 2, first of its group 1, mode 4, the
// bank BANK_SAID, a text's foreground and background COLOUR_SAID each, place in the group 6
localparam [1:0] DOT_CLEAR = 2'd0;
localparam [1:0] DOT_FIXED = 2'd1;
localparam [1:0] DOT_GROUP = 2'd2;
localparam integer SAID = 13 + BANK_SAID + 2 * COLOUR_SAID;
// sprites drawn on a line; one that never is, of a chip that has none
localparam integer SPRITE_SLOTS = SPRITES_COUNT == 0 ? 1 : SPRITES_PER_LINE > 0 && SPRITES_PER_LINE < SPRITES_COUNT ? SPRITES_PER_LINE : SPRITES_COUNT;
// entries kept of a dot's sprites: the front-most's, or each one's where the ladder says who shows
localparam integer ENTRY_BITS = 16 * (SPRITES_RUNG_BY_RUNG ? SPRITE_SLOTS : 1);
// bits of a sprite's number, of which all are 1 for no sprite, and of how many there are
localparam integer SPRITE_NUMBER = SPRITES_COUNT == 0 ? 1 : $clog2(SPRITES_COUNT + 1);
localparam [SPRITE_NUMBER-1:0] NO_SPRITE = {SPRITE_NUMBER{1'b1}};
localparam integer SLOT_BITS = SPRITE_SLOTS > 1 ? $clog2(SPRITE_SLOTS) : 1;
localparam integer RECORD = 8 * SPRITES_RECORD_BYTES;
// bits of the longest row of a sprite's dots
function integer longest_row;
  input integer bits_of_access;
  integer n, here;
  begin
    longest_row = 0;
    for (n = 0; n < SPRITE_SIZES; n = n + 1) begin
      here = SPRITE_SIZES_WIDTH[32*n +: 32] / SPRITE_SIZES_TILE_X[32*n +: 32]
          * SPRITE_SIZES_ROW_ACCESSES[32*n +: 32] * bits_of_access;
      if (here > longest_row) longest_row = here;
    end
  end
endfunction
localparam integer SPRITE_ROW = longest_row(BUS_BITS);
// how often the planes of a sprite begin anew in memory
localparam integer SPRITE_PLANES = SPRITES_PLANES == PLANES_BY_PATTERN || SPRITES_PLANES == PLANES_APART
    ? SPRITES_BITS_PER_DOT : 1;
// clocks that a tick has to have, so that a line's sprites are found and drawn in time
function integer widest_sprite;
  input integer least;
  integer n;
  begin
    widest_sprite = least;
    for (n = 0; n < SPRITE_SIZES; n = n + 1)
      if (SPRITE_SIZES_WIDTH[32*n +: 32] > widest_sprite) widest_sprite = SPRITE_SIZES_WIDTH[32*n +: 32];
  end
endfunction
localparam integer MOST_DOTS = SPRITE_SLOTS * widest_sprite(0);
localparam integer DRAW_CLOCKS = 3 * SPRITE_SLOTS + 1
    + (SPRITES_DOTS_PER_LINE >= 0 && SPRITES_DOTS_PER_LINE < MOST_DOTS ? SPRITES_DOTS_PER_LINE : MOST_DOTS);
localparam integer LOOK_CLOCKS = SPRITES_IN_MEMORY ? 0 : SPRITES_COUNT + 4; // before the picture's last dot
localparam integer DRAW_TICKS = TICKS > 8 ? TICKS - 8 : 1;
// and so that a group that begins at the line's last dot, and may be asked for in the first slots, is known by then
function integer early_clocks;
  input integer least;
  integer n, first;
  begin
    early_clocks = least;
    for (n = 0; n < PLACES; n = n + 1) begin
      first = PLACES_WHEN[32*n +: 32] == WHEN_BLANKING ? 0
          : (FRAME_DOTS_PER_LINE - 1 - $signed(PLACES_LEAD[32*n +: 32])) * MEMORY_RATE_ACCESSES;
      if (PLACES_WHEN[32*n +: 32] != WHEN_LINE_BEFORE && first < KNOWN_CLOCKS) early_clocks = KNOWN_CLOCKS;
    end
  end
endfunction
function integer most_of;
  input integer one, two;
  most_of = one > two ? one : two;
endfunction
localparam integer KNOWN_CLOCKS = 3;   // from a dot's end until its group may ask
localparam integer TICK_CLOCKS = most_of(early_clocks(1), most_of((DRAW_CLOCKS + DRAW_TICKS - 1) / DRAW_TICKS,
    (LOOK_CLOCKS + TICKS_SHOWN - 1) / TICKS_SHOWN));
localparam integer COUNT_BITS = 16;
// address bits of a queue for what the CPU writes in so many ticks: a byte each loop, or a dot where it has no pace; 64 bytes
// at least, as a program may keep some back and offer them in one dot
function integer waiting_bits;
  input integer ticks;
  integer each;
  begin
    each = CPU_PACED ? CPU_BYTE_DOTS_OVER * MEMORY_RATE_ACCESSES / CPU_BYTE_DOTS_UNDER : MEMORY_RATE_ACCESSES;
    waiting_bits = $clog2(most_of(64, ticks / most_of(each, 1) + 2));
  end
endfunction
