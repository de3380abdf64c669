// One layer's dot as the picture needs it: is it opaque, which entry, which cell.
//
// It knows the layer LAYER and takes the groups of its modes from the queues of their places, one
// whenever the scanner has said that a group begins. Answers stand two ticks after `step`.
module draw_layer (clk, reset, tick, step, said, kept, takes, opaque, entry, cell_word, cell_mode);
  `include "design.vh"
  parameter integer LAYER = 0;
  input clk, reset, tick, step;
  input [SAID-1:0] said;
  input [KEPT*PLACES-1:0] kept;        // the first group of every place
  output reg [PLACES-1:0] takes;
  output reg opaque;
  output reg [15:0] entry;
  output reg [15:0] cell_word;         // for conditions; 0 where the dot has no cell
  output reg [3:0] cell_mode;

  localparam integer FIRST = LAYERS_FIRST_MODE[32*LAYER +: 32];
  localparam integer COUNT = LAYERS_MODES[32*LAYER +: 32];
  wire [1:0] kind = said[SAID-1 -: 2];
  wire first = said[SAID-3];
  wire [3:0] mode = said[SAID-4 -: 4];
  wire [5:0] place = said[5:0];
  localparam integer C = COLOUR_SAID > 0 ? COLOUR_SAID : 1;
  localparam integer K = BANK_SAID > 0 ? BANK_SAID : 1;
  wire [C-1:0] fore, back;             // colours of a text that stand in registers
  wire [K-1:0] bank;
  generate
    if (COLOUR_SAID > 0) begin : with_colours
      assign {fore, back} = said[6 +: 2*C];
    end else begin : without_colours
      assign {fore, back} = 2'd0;
    end
    if (BANK_SAID > 0) begin : with_bank
      assign bank = said[6+2*COLOUR_SAID +: K];
    end else begin : without_bank
      assign bank = 1'b0;
    end
  endgenerate

  // step 1: the dot's group
  reg [KEPT-1:0] cells_held, dots_held;
  reg on_2;
  reg [1:0] kind_2;
  reg [3:0] mode_2;
  reg [5:0] place_2;
  reg [C-1:0] fore_2, back_2;
  reg [K-1:0] bank_2;
  reg [7:0] cells_at, dots_at;
  wire begins = step && kind == DOT_GROUP && first;
  always @* begin
    cells_at = 0;
    dots_at = 0;
    takes = 0;
    if (begins) begin
      cells_at = cells_of[8*mode +: 8];
      dots_at = dots_of[8*mode +: 8];
      if (cells_at != 8'hff) takes[cells_at] = 1;
      if (dots_at != 8'hff) takes[dots_at] = 1;
    end
  end
  wire works = tick && (step || on_2);
  wire works_3 = tick && on_2;
  always @(posedge clk)
    if (!works && !reset) begin
    end else if (reset) begin
      on_2 <= 0; kind_2 <= DOT_CLEAR; mode_2 <= 0; place_2 <= 0; fore_2 <= 0; back_2 <= 0; bank_2 <= 0;
      cells_held <= 0; dots_held <= 0;
    end else if (works) begin
      on_2 <= step;
      if (step) begin
        kind_2 <= kind;
        mode_2 <= mode;
        place_2 <= place;
        fore_2 <= fore;
        back_2 <= back;
        bank_2 <= bank;
        if (begins) begin
          cells_held <= cells_at == 8'hff ? {KEPT{1'b0}} : kept[KEPT*cells_at +: KEPT];
          dots_held <= dots_at == 8'hff ? {KEPT{1'b0}} : kept[KEPT*dots_at +: KEPT];
        end
      end
    end

  // the places of every mode
  wire [8*16-1:0] cells_of, dots_of;
  wire [16*COUNT-1:0] fixed_of;
  wire [COUNT-1:0] opaque_of;
  reg [16*COUNT-1:0] entry_of, cell_of;
  genvar m;
  generate
    for (m = 0; m < 16; m = m + 1) begin : a_place
      localparam integer MODE = m < MODES ? m : 0;
      localparam integer KIND = MODES_KIND[32*MODE +: 32];
      assign cells_of[8*m +: 8] = KIND == KIND_BITMAP ? MODES_PLACE_COLOURS[32*MODE +: 8]
          : MODES_PLACE_CELLS[32*MODE +: 8];
      assign dots_of[8*m +: 8] = KIND == KIND_BITMAP ? MODES_PLACE_BITMAP[32*MODE +: 8]
          : KIND == KIND_TEXT ? MODES_PLACE_GLYPHS[32*MODE +: 8] : MODES_PLACE_PATTERN[32*MODE +: 8];
    end
    for (m = 0; m < COUNT; m = m + 1) begin : a_mode
      localparam integer MODE = FIRST + m;
      localparam integer FIXED = MODES_KIND[32*MODE +: 32] == KIND_TEXT ? MODES_MARGIN[32*MODE +: 32]
          : MODES_OUTSIDE[32*MODE +: 32];
      wire [15:0] own_entry, own_cell;
      assign fixed_of[16*m +: 16] = FIXED;
      dot_value #(.MODE(MODE)) dot (
        .clk(clk), .on(on_2 && tick && kind_2 == DOT_GROUP && mode_2 == MODE), .place(place_2), 
        .fore({{(16-C){1'b0}}, fore_2}), .back({{(16-C){1'b0}}, back_2}), .line_bank({{(16-K){1'b0}}, bank_2}),
        .cell_data(cells_held[KEPT-2:0]), .dots(dots_held[KEPT-2:0]),
        .opaque(opaque_of[m]), .entry(own_entry), .of_cell(own_cell));
      always @* entry_of[16*m +: 16] = own_entry;
      always @* cell_of[16*m +: 16] = own_cell;
    end
  endgenerate

  // step 2: its value, above, and what goes with it
  reg [1:0] kind_3;
  reg missed_3;
  reg [3:0] index_3;
  always @(posedge clk)
    if (reset) begin
      kind_3 <= DOT_CLEAR; missed_3 <= 0; index_3 <= 0; cell_mode <= 0;
    end else if (works_3) begin
      kind_3 <= kind_2;
      index_3 <= mode_2 - FIRST;
      missed_3 <= cells_held[KEPT-1] || dots_held[KEPT-1];
      cell_mode <= mode_2;
    end

  // step 3: the answer
  always @* begin
    opaque = kind_3 == DOT_FIXED || kind_3 == DOT_GROUP && opaque_of[index_3] && !missed_3;
    cell_word = kind_3 == DOT_GROUP ? cell_of[16*index_3 +: 16] : 16'd0;
    entry = kind_3 == DOT_FIXED ? fixed_of[16*index_3 +: 16] : entry_of[16*index_3 +: 16];
  end
endmodule
