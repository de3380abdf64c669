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
// what is known of a group after its fetch: one bit for `missed`, then its bytes
localparam integer KEPT = 1 + 8 * MOST_PLANES * MEMORY_ACCESS_BYTES;
// whether a text's colours stand in registers: then the scanner says them with each dot
function integer colours_in_registers;
  input integer unused;
  integer n;
  begin
    colours_in_registers = unused;
    for (n = 0; n < MODES; n = n + 1)
      if (MODES_FOREGROUND[32*n +: 32] != ~32'd0 || MODES_BACKGROUND[32*n +: 32] != ~32'd0)
        colours_in_registers = 1;
  end
endfunction
localparam integer COLOURS_SAID = colours_in_registers(0);
// what the scanner says of a dot of a layer: kind 2, first of its group 1, mode 4, a text's
// foreground 8 and background 8 where they stand in registers, place in the group 6
localparam [1:0] DOT_CLEAR = 2'd0;
localparam [1:0] DOT_FIXED = 2'd1;
localparam [1:0] DOT_GROUP = 2'd2;
localparam integer SAID = COLOURS_SAID ? 13 + 16 : 13;
localparam integer SPRITE_SLOTS = SPRITES_PER_LINE > 0 ? SPRITES_PER_LINE : SPRITES_COUNT; // drawn on a line
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
localparam integer COUNT_BITS = 16;
