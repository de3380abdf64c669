// Where a place's next access lies.
//
// It knows the place PLACE and how the rows of its modes lie in memory. Dots of a bitmap, cells and
// colour cells are told by the address of the group's first; patterns and glyphs by the cell.
// Addresses are not yet taken modulo the memory's size.
module spots (mode, at, row, cell_word, done, bases, wanted);
  `include "design.vh"
  parameter integer PLACE = 0;
  input [3:0] mode;
  input [23:0] at;
  input [5:0] row;                     // of the tile or glyph, before flips
  input [15:0] cell_word;
  input [7:0] done;                    // accesses of the group before this one
  input [24*MOST_PLANES-1:0] bases;    // of the mode
  output [23:0] wanted;

  localparam integer WHAT = PLACES_WHAT[32*PLACE +: 32];
  localparam integer W = MEMORY_ACCESS_BYTES;
  reg [24*MODES-1:0] addresses;
  genvar m;
  generate
    for (m = 0; m < MODES; m = m + 1) begin : a_mode
      localparam integer OF_CELLS = MODES_PLACE_CELLS[32*m +: 32];
      localparam integer OF_PATTERN = MODES_PLACE_PATTERN[32*m +: 32];
      localparam integer OF_GLYPHS = MODES_PLACE_GLYPHS[32*m +: 32];
      localparam integer OF_COLOURS = MODES_PLACE_COLOURS[32*m +: 32];
      localparam integer OF_BITMAP = MODES_PLACE_BITMAP[32*m +: 32];
      localparam integer HERE = WHAT == WHAT_CELLS ? OF_CELLS : WHAT == WHAT_PATTERN ? OF_PATTERN
          : WHAT == WHAT_GLYPHS ? OF_GLYPHS : WHAT == WHAT_COLOURS ? OF_COLOURS : OF_BITMAP;
      localparam integer PLANES = MODES_PLANES[32*m +: 32];
      localparam integer PLANE_BYTES = MODES_ROW_COUNT[32*m +: 32] * MODES_ROW_STEP[32*m +: 32];
      localparam integer GROUP = MODES_GROUP_DOTS[32*m +: 32];
      // accesses of a group that lie together
      localparam integer TOGETHER = WHAT != WHAT_BITMAP ? accesses_of(m, WHAT) / plane_rows(m)
          : PLANES == PLANES_PACKED ? accesses_of(m, WHAT) : GROUP / 8 / W;
      localparam integer EACH = TOGETHER > 0 ? TOGETHER : 1;
      wire [7:0] plane = done / EACH;
      wire [23:0] along = done % EACH * W;
      wire [23:0] spot;
      always @* addresses[24*m +: 24] = spot;
      if (HERE != PLACE) begin : other
        assign spot = 24'd0;
      end else if (WHAT == WHAT_CELLS || WHAT == WHAT_COLOURS) begin : cell_at
        assign spot = at + done * W;
      end else if (WHAT == WHAT_BITMAP) begin : dots_at
        // one that is apart lies as far from its plane's beginning as the first from its own
        assign spot = along + at + (PLANES == PLANES_BY_ROW ? plane * (MODES_ROW_DOTS[32*m +: 32] / 8)
            : PLANES == PLANES_BY_PATTERN ? plane * PLANE_BYTES
            : PLANES == PLANES_APART ? bases[24*plane +: 24] + MEMORY_SIZE - bases[23:0] : 0);
      end else begin : pattern_at
        wire [15:0] pattern;
        localparam [511:0] PLACES_OF = WHAT == WHAT_GLYPHS ? CELLS_CHARACTER[512*m +: 512] : CELLS_PATTERN[512*m +: 512];
        field_bits #(.BITS(16), .PLACES(PLACES_OF)) of_pattern (.word(cell_word), .value(pattern));
        localparam integer FLIP = CELLS_FLIP_Y[32*16*m +: 32];
        wire flip_y = FLIP < 0 ? 1'b0 : cell_word[FLIP < 0 ? 0 : FLIP];
`ifdef FAULT_FLIP
        wire [5:0] flipped = flip_y ? MODES_TILE_Y[32*m +: 32] - row : row;
`else
        wire [5:0] flipped = flip_y ? MODES_TILE_Y[32*m +: 32] - 1 - row : row;
`endif
        wire [31:0] whole = pattern * MODES_PATTERN_BYTES[32*m +: 32];
        if (WHAT == WHAT_GLYPHS) begin : a_glyph
          assign spot = bases[23:0] + whole + row;
        end else begin : a_row
          assign spot = whole + flipped * MODES_ROW_STEP[32*m +: 32] + along
              + (PLANES == PLANES_APART ? bases[24*plane +: 24] : bases[23:0])
              + (PLANES == PLANES_BY_PATTERN ? plane * PLANE_BYTES : 0);
        end
      end
    end
  endgenerate
  assign wanted = addresses[24*mode +: 24];
endmodule

// The controls of a mode that hold addresses of dots: plane 0 and, where planes are apart, the others.
module mode_bases (mode, controls, bases);
  `include "design.vh"
  input [3:0] mode;
  input [32*CONTROLS-1:0] controls;
  output [24*MOST_PLANES-1:0] bases;
  wire [24*MOST_PLANES*MODES-1:0] all;
  genvar m;
  generate
    for (m = 0; m < MOST_PLANES * MODES; m = m + 1) begin : a_base
      localparam integer OWN = MODES_BASES[32*m +: 32];
      assign all[24*m +: 24] = OWN < 0 ? 24'd0 : controls[32*(OWN < 0 ? 0 : OWN) +: 24];
    end
  endgenerate
  assign bases = all[24*MOST_PLANES*mode +: 24*MOST_PLANES];
endmodule
