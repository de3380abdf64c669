// Where a dot of one mode lies: in which group, and where its cell, row or dots are in memory.
//
// It knows the geometry of the mode MODE, and nothing of other modes. A group's first dot is known
// by its key: the dot before it on the line had another, or was not of this mode, or lay beyond
// the surface. Answers stand a tick after the dot.
module scan_mode (clk, step, on, dot, own_line, scroll_x, scroll_y, controls,
                  kind, first, place, row, address, colours);
  `include "design.vh"
  parameter integer MODE = 0;
  input clk, step, on;                 // the mode shows at this dot
  input [15:0] dot, own_line;
  input [SCROLLED-1:0] scroll_x, scroll_y;
  input [32*CONTROLS-1:0] controls;
  output reg [1:0] kind;               // DOT_ ...
  output reg first;                    // its group begins here
  output reg [5:0] place;              // dot of the group
  output reg [5:0] row;                // row of the tile or glyph, before flips
  output reg [23:0] address;           // of the cell, or of the group's dots
  output reg [23:0] colours;           // of the group's first colour cell

  localparam integer KIND = MODES_KIND[32*MODE +: 32];
  localparam integer DOUBLE_X = MODES_DOUBLE_X[32*MODE +: 32];
  localparam integer DOUBLE_Y = MODES_DOUBLE_Y[32*MODE +: 32];
  localparam integer TILE_X = MODES_TILE_X[32*MODE +: 32];
  localparam integer TILE_Y = MODES_TILE_Y[32*MODE +: 32];
  localparam integer COLUMNS = MODES_COLUMNS[32*MODE +: 32];
  localparam integer ROWS = MODES_ROWS[32*MODE +: 32];
  localparam integer CELL_BYTES = MODES_CELL_BYTES[32*MODE +: 32];
  // of few bits, so that what divides by them is small
  localparam [12:0] BY_DOUBLE_X = DOUBLE_X;
  localparam [12:0] BY_DOUBLE_Y = DOUBLE_Y;
  localparam [12:0] BY_TILE_X = TILE_X > 0 ? TILE_X : 1;
  localparam [12:0] BY_TILE_Y = TILE_Y > 0 ? TILE_Y : 1;

  localparam integer MAP = MODES_MAP[32*MODE +: 32];
  localparam integer COLOURS = MODES_COLOURS[32*MODE +: 32];
  localparam integer BASE = MODES_BASES[32*MOST_PLANES*MODE +: 32];
  wire [23:0] map = controls[32*(MAP < 0 ? 0 : MAP) +: 24];
  wire [23:0] colours_base = controls[32*(COLOURS < 0 ? 0 : COLOURS) +: 24];
  wire [23:0] base = controls[32*BASE +: 24];

  // addresses of dots that are part of the key and may change in mid-line
  wire [MOST_PLANES-1:0] moved;
  genvar p;
  generate
    for (p = 0; p < MOST_PLANES; p = p + 1) begin : a_base
      localparam integer OWN = MODES_BASES[32*(MOST_PLANES*MODE+p) +: 32];
      localparam integer FIELD = OWN < 0 ? -1 : CONTROLS_FIELD[32*(OWN < 0 ? 0 : OWN) +: 32];
      localparam integer EFFECT = FIELD < 0 ? -1 : FIELDS_EFFECT[32*(FIELD < 0 ? 0 : FIELD) +: 32];
      if (EFFECT == EFFECT_AT_ONCE && (KIND != KIND_BITMAP || p > 0)) begin : moves
        reg [23:0] last;
        always @(posedge clk) if (step && on) last <= controls[32*OWN +: 24];
        assign moved[p] = last != controls[32*OWN +: 24];
      end else begin : stays
        assign moved[p] = 1'b0;
      end
    end
  endgenerate

  reg run;                             // the dot before was of this mode and lies_in
  reg [12:0] x, y, px, py;             // dots and lines of a surface
  reg [23:0] row_offset, row_colours, at, at_colours;
  reg [11:0] group, last_group;
  reg [5:0] last_row, row_now, place_now;
  reg lies_in, inside_y, first_now;

  generate
    if (KIND == KIND_TEXT) begin : text
      localparam integer LEFT = MODES_LEFT[32*MODE +: 32];
      localparam integer MARGIN = MODES_MARGIN[32*MODE +: 32];
      always @* begin
        py = own_line[12:0] / BY_DOUBLE_Y;
        y = py / BY_TILE_Y;
        inside_y = y < ROWS;
        row_now = py % BY_TILE_Y;
        row_offset = y * COLUMNS * CELL_BYTES;
        row_colours = 0;
      end
      always @(posedge clk) if (step) begin
        kind <= DOT_CLEAR;
        run <= 0;
        if (on) begin
          x = dot[12:0] - LEFT;
          px = x / BY_DOUBLE_X;
          group = px / BY_TILE_X;
          place_now = px % BY_TILE_X;
          at = (map + row_offset + group * CELL_BYTES) % MEMORY_SIZE;
          lies_in = inside_y && dot >= LEFT && group < COLUMNS;
          run <= lies_in;
          kind <= lies_in ? DOT_GROUP : MARGIN >= 0 ? DOT_FIXED : DOT_CLEAR;
          first_now = lies_in && !(run && dot != 0 && group == last_group && at == address && moved == 0
              && row_now == last_row);
          first <= first_now;
          place <= place_now;
          row <= row_now;
          address <= at;
          colours <= 0;
          last_group <= group;
          last_row <= row_now;
        end
      end
    end else begin : surface
      localparam integer EXTENT_X = MODES_EXTENT_X[32*MODE +: 32];
      localparam integer EXTENT_Y = MODES_EXTENT_Y[32*MODE +: 32];
      localparam integer SPAN_X = MODES_SPAN_X[32*MODE +: 32];
      localparam integer SPAN_Y = MODES_SPAN_Y[32*MODE +: 32];
      localparam integer SCROLLS_X = MODES_SCROLLS_X[32*MODE +: 32];
      localparam integer SCROLLS_Y = MODES_SCROLLS_Y[32*MODE +: 32];
      localparam integer OUTSIDE = MODES_OUTSIDE[32*MODE +: 32];
      localparam integer PAGE_X = MODES_PAGE_X[32*MODE +: 32];
      localparam integer PAGE_Y = MODES_PAGE_Y[32*MODE +: 32];
      localparam integer PAGE_STEP_X = MODES_PAGE_STEP_X[32*MODE +: 32];
      localparam integer PAGE_STEP_Y = MODES_PAGE_STEP_Y[32*MODE +: 32];
      localparam integer CELL_STEP_X = MODES_CELL_STEP_X[32*MODE +: 32];
      localparam integer CELL_STEP_Y = MODES_CELL_STEP_Y[32*MODE +: 32];
      localparam integer GROUP = MODES_GROUP_DOTS[32*MODE +: 32];
      localparam integer PLANES = MODES_PLANES[32*MODE +: 32];
      localparam integer BITS = MODES_BITS_PER_DOT[32*MODE +: 32];
      localparam integer ROW_DOTS = MODES_ROW_DOTS[32*MODE +: 32];
      localparam integer ROW_STEP = MODES_ROW_STEP[32*MODE +: 32];
      localparam integer BLOCK_X = MODES_BLOCK_X[32*MODE +: 32];
      localparam integer BLOCK_Y = MODES_BLOCK_Y[32*MODE +: 32];
      localparam integer COLOUR_BYTES = MODES_COLOUR_BYTES[32*MODE +: 32];
      localparam [12:0] BY_PAGE_X = PAGE_X > 0 ? PAGE_X : 1;
      localparam [12:0] BY_PAGE_Y = PAGE_Y > 0 ? PAGE_Y : 1;
      localparam integer WRAPS = MODES_WRAPS[32*MODE +: 32];
      localparam [12:0] BY_KEY = (KIND == KIND_TILES ? TILE_X : GROUP) * DOUBLE_X;
      reg [SCROLLED-1:0] whole, whole_y, key, last_key; // a dot, or what goes with it, before the surface begins again
      localparam [12:0] BY_GROUP = GROUP > 0 ? GROUP : 1;
      localparam [12:0] BY_BLOCK_Y = BLOCK_Y > 0 ? BLOCK_Y : 1;
      localparam [12:0] MOD_X = SPAN_X;
      localparam [12:0] MOD_Y = SPAN_Y;
      // bytes of a group of a bitmap in its row, or in each plane of it
      localparam integer GROUP_BYTES = PLANES == PLANES_PACKED ? GROUP * BITS / 8 : GROUP / 8;
      reg [12:0] tile_row, page, in_page, block_row, page_x, in_page_x;
      always @* begin
        tile_row = 0;
        page = 0;
        in_page = 0;
        block_row = 0;
        whole_y = own_line + (SCROLLS_Y ? scroll_y : {SCROLLED{1'b0}});
        y = whole_y % MOD_Y;
        inside_y = y < EXTENT_Y;
        py = y / BY_DOUBLE_Y;
        if (KIND == KIND_TILES) begin
          row_now = py % BY_TILE_Y;
          tile_row = py / BY_TILE_Y;
          page = tile_row / BY_PAGE_Y;
          in_page = tile_row % BY_PAGE_Y;
          row_offset = (page * PAGE_STEP_Y + in_page * CELL_STEP_Y) * CELL_BYTES;
          row_colours = 0;
        end else begin
          row_now = 0;
          row_offset = py * ROW_STEP;
          block_row = py / BY_BLOCK_Y;
          row_colours = BLOCK_X > 0 ? block_row * (ROW_DOTS / BLOCK_X) * COLOUR_BYTES : 0;
        end
      end
      always @(posedge clk) if (step) begin
        kind <= DOT_CLEAR;
        run <= 0;
        if (on) begin
          whole = dot + (SCROLLS_X ? scroll_x : {SCROLLED{1'b0}});
          x = whole % MOD_X;
          // where a surface begins again, so does its group, be it the only one
          key = (WRAPS ? whole : x) / BY_KEY;
          lies_in = inside_y && x < EXTENT_X;
          px = x / BY_DOUBLE_X;
          if (KIND == KIND_TILES) begin
            group = px / BY_TILE_X;
            place_now = px % BY_TILE_X;
            page_x = group / BY_PAGE_X;
            in_page_x = group % BY_PAGE_X;
            at = (map + row_offset + (page_x * PAGE_STEP_X + in_page_x * CELL_STEP_X) * CELL_BYTES)
                % MEMORY_SIZE;
            at_colours = 0;
          end else begin
            group = px / BY_GROUP;
            place_now = px % BY_GROUP;
            at = (base + row_offset + group * GROUP_BYTES) % MEMORY_SIZE;
            at_colours = BLOCK_X > 0
                ? (colours_base + row_colours + group * (GROUP / BLOCK_X) * COLOUR_BYTES) % MEMORY_SIZE : 0;
          end
          run <= lies_in;
          kind <= lies_in ? DOT_GROUP : OUTSIDE >= 0 ? DOT_FIXED : DOT_CLEAR;
          first_now = lies_in && !(run && dot != 0 && key == last_key && at == address && moved == 0
              && at_colours == colours && row_now == last_row);
          first <= first_now;
          place <= place_now;
          row <= row_now;
          address <= at;
          colours <= at_colours;
          last_key <= key;
          last_row <= row_now;
        end
      end
    end
  endgenerate
endmodule
