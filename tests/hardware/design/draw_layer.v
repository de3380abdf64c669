// One layer's dot as the picture needs it: is it opaque, which entry, which cell.
//
// It knows the layer LAYER and takes the groups of its modes from the queues of their places, one
// whenever the scanner has said that a group begins. Answers stand a tick after `step`.
module draw_layer (clk, reset, step, said, kept, takes, opaque, entry, cell_word, cell_mode);
  `include "design.vh"
  parameter integer LAYER = 0;
  input clk, reset, step;
  input [SAID-1:0] said;
  input [KEPT*PLACES-1:0] kept;        // the first group of every place
  output reg [PLACES-1:0] takes;
  output reg opaque;
  output reg [15:0] entry;
  output reg [15:0] cell_word;         // for conditions; 0 where the mode has no cells
  output reg [3:0] cell_mode;

  localparam integer FIRST = LAYERS_FIRST_MODE[32*LAYER +: 32];
  localparam integer COUNT = LAYERS_MODES[32*LAYER +: 32];
  wire [1:0] kind = said[SAID-1 -: 2];
  wire first = said[SAID-3];
  wire [3:0] mode = said[SAID-4 -: 4];
  wire [5:0] place = said[5:0];

  reg [KEPT-1:0] cells_held, dots_held;
  wire [KEPT*COUNT-1:0] cells_of, dots_of;
  wire [PLACES*COUNT-1:0] takes_of;
  wire [COUNT-1:0] opaque_of;
  wire [16*COUNT-1:0] entry_of, fixed_of;
  wire [3:0] index = mode - FIRST;
  wire begins = step && kind == DOT_GROUP && first;
  wire [KEPT-1:0] cells = begins ? cells_of[KEPT*index +: KEPT] : cells_held;
  wire [KEPT-1:0] dots = begins ? dots_of[KEPT*index +: KEPT] : dots_held;

  genvar m;
  generate
    for (m = 0; m < COUNT; m = m + 1) begin : a_mode
      localparam integer MODE = FIRST + m;
      localparam integer KIND = MODES_KIND[32*MODE +: 32];
      localparam integer CELLS = KIND == KIND_BITMAP ? MODES_PLACE_COLOURS[32*MODE +: 32]
          : MODES_PLACE_CELLS[32*MODE +: 32];
      localparam integer DOTS = KIND == KIND_BITMAP ? MODES_PLACE_BITMAP[32*MODE +: 32]
          : KIND == KIND_TEXT ? MODES_PLACE_GLYPHS[32*MODE +: 32] : MODES_PLACE_PATTERN[32*MODE +: 32];
      localparam integer FIXED = KIND == KIND_TEXT ? MODES_MARGIN[32*MODE +: 32]
          : MODES_OUTSIDE[32*MODE +: 32];
      assign cells_of[KEPT*m +: KEPT] = CELLS < 0 ? {KEPT{1'b0}} : kept[KEPT*(CELLS < 0 ? 0 : CELLS) +: KEPT];
      assign dots_of[KEPT*m +: KEPT] = DOTS < 0 ? {KEPT{1'b0}} : kept[KEPT*(DOTS < 0 ? 0 : DOTS) +: KEPT];
      assign takes_of[PLACES*m +: PLACES] =
          (CELLS < 0 ? {PLACES{1'b0}} : {{(PLACES-1){1'b0}}, 1'b1} << (CELLS < 0 ? 0 : CELLS))
          | (DOTS < 0 ? {PLACES{1'b0}} : {{(PLACES-1){1'b0}}, 1'b1} << (DOTS < 0 ? 0 : DOTS));
      assign fixed_of[16*m +: 16] = FIXED;
      dot_value #(.MODE(MODE)) dot (
        .on(step && kind == DOT_GROUP && mode == MODE), .place(place),
        .cell_data(cells[KEPT-2:0]), .dots(dots[KEPT-2:0]),
        .opaque(opaque_of[m]), .entry(entry_of[16*m +: 16]));
    end
  endgenerate

  always @* begin
    takes = 0;
    if (begins) takes = takes_of[PLACES*index +: PLACES];
  end
  always @(posedge clk)
    if (reset) begin
      opaque <= 0; entry <= 0; cell_word <= 0; cell_mode <= 0; cells_held <= 0; dots_held <= 0;
    end else if (step) begin
      cells_held <= cells;
      dots_held <= dots;
      cell_mode <= mode;
      cell_word <= 0;
      case (kind)
        DOT_GROUP: begin
          opaque <= opaque_of[index] && !cells[KEPT-1] && !dots[KEPT-1];
          entry <= entry_of[16*index +: 16];
          if (MODES_KIND[32*mode +: 32] != KIND_BITMAP)
            cell_word <= MEMORY_BIG_END_FIRST && MODES_CELL_BYTES[32*mode +: 32] != 1
                ? {cells[7:0], cells[15:8]} : cells[15:0];
        end
        DOT_FIXED: begin
          opaque <= 1;
          entry <= fixed_of[16*index +: 16];
        end
        default: opaque <= 0;
      endcase
    end
endmodule
