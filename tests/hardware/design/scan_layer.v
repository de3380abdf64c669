// One layer's dots, one after another, with the registers in force at each.
//
// It knows the layer LAYER and asks its modes' scanners. A tick after the dot it tells what the
// dot is, for the picture, and with a group's first dot what the places of the memory are to fetch.
module scan_layer (clk, step, shown, dot, controls, shows, mode, own_line,
                   said, group_begins, group_mode, row, offset, colours);
  `include "design.vh"
  parameter integer LAYER = 0;
  input clk, step, shown;              // shown: the dot is one of the picture
  input [15:0] dot;
  input [32*CONTROLS-1:0] controls;
  input shows;
  input [3:0] mode;
  input [15:0] own_line;
  output [SAID-1:0] said;              // of the dot of the tick before
  output group_begins;
  output [3:0] group_mode;
  output [5:0] row;
  output [23:0] offset, colours;

  localparam integer FIRST = LAYERS_FIRST_MODE[32*LAYER +: 32];
  localparam integer COUNT = LAYERS_MODES[32*LAYER +: 32];
  localparam integer SCROLL_X = LAYERS_SCROLL_X[32*LAYER +: 32];
  localparam integer SCROLL_Y = LAYERS_SCROLL_Y[32*LAYER +: 32];
`ifdef FAULT_SCROLL_LATE
  // across, the scroll counts a dot too late
  reg [15:0] scroll_x;
  initial scroll_x = 0;
  always @(posedge clk) if (step) scroll_x <= SCROLL_X < 0 ? 16'd0 : controls[32*(SCROLL_X < 0 ? 0 : SCROLL_X) +: 16];
`else
  wire [15:0] scroll_x = SCROLL_X < 0 ? 16'd0 : controls[32*(SCROLL_X < 0 ? 0 : SCROLL_X) +: 16];
`endif
  wire [15:0] scroll_y = SCROLL_Y < 0 ? 16'd0 : controls[32*(SCROLL_Y < 0 ? 0 : SCROLL_Y) +: 16];

  wire [8*COUNT-1:0] fore, back;       // of a text whose colours stand in registers
  reg [7:0] fore_then, back_then;
  wire [3:0] mode_now = mode - FIRST;
  reg [3:0] mode_then;
  reg shown_then, stepped;
  always @(posedge clk) begin
    stepped <= step;
    if (step) begin
      mode_then <= mode_now;
      fore_then <= fore[8*mode_now +: 8];
      back_then <= back[8*mode_now +: 8];
      shown_then <= shown && shows;
    end
  end

  localparam integer ANSWER = 2 + 1 + 6 + 6 + 24 + 24;
  reg [ANSWER*COUNT-1:0] answers;
  reg [ANSWER-1:0] answer;
  always @* answer = answers[ANSWER*mode_then +: ANSWER];
  genvar m;
  generate
    for (m = 0; m < COUNT; m = m + 1) begin : a_mode
      wire [1:0] m_kind;
      wire m_first;
      wire [5:0] m_place, m_row;
      wire [23:0] m_offset, m_colours;
      localparam integer FORE = MODES_FOREGROUND[32*(FIRST+m) +: 32];
      localparam integer BACK = MODES_BACKGROUND[32*(FIRST+m) +: 32];
      assign fore[8*m +: 8] = FORE < 0 ? 8'd0 : controls[32*(FORE < 0 ? 0 : FORE) +: 8];
      assign back[8*m +: 8] = BACK < 0 ? 8'd0 : controls[32*(BACK < 0 ? 0 : BACK) +: 8];
      scan_mode #(.MODE(FIRST + m)) scanner (
        .clk(clk), .step(step), .on(shown && shows && mode == FIRST + m), .dot(dot),
        .own_line(own_line), .scroll_x(scroll_x), .scroll_y(scroll_y),
        .kind(m_kind), .first(m_first), .place(m_place), .row(m_row),
        .offset(m_offset), .colours(m_colours));
      always @* answers[ANSWER*m +: ANSWER] = {m_kind, m_first, m_place, m_row, m_offset, m_colours};
    end
  endgenerate

  wire [1:0] kind = shown_then ? answer[ANSWER-1 -: 2] : DOT_CLEAR;
  wire first = kind == DOT_GROUP && answer[ANSWER-3];
  assign group_mode = mode_then + FIRST;
  generate
    if (COLOURS_SAID) begin : with_colours
      assign said = {kind, first, group_mode, fore_then, back_then, answer[ANSWER-4 -: 6]};
    end else begin : without_colours
      assign said = {kind, first, group_mode, answer[ANSWER-4 -: 6]};
    end
  endgenerate
  assign group_begins = stepped && first;
  assign row = answer[48 +: 6];
  assign offset = answer[24 +: 24];
  assign colours = answer[0 +: 24];
endmodule
