// One layer's dots, one after another, with the registers in force at each.
//
// It knows the layer LAYER and asks its modes' scanners. A tick after the dot it tells what the
// dot is, for the picture, and with a group's first dot what the places of the memory are to fetch.
module scan_layer (clk, step, shown, dot, controls, shows, mode, own_line,
                   said, group_begins, group_mode, row, address, colours);
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
  output [23:0] address, colours;

  localparam integer FIRST = LAYERS_FIRST_MODE[32*LAYER +: 32];
  localparam integer COUNT = LAYERS_MODES[32*LAYER +: 32];
  localparam integer SCROLL_X = LAYERS_SCROLL_X[32*LAYER +: 32];
  localparam integer SCROLL_Y = LAYERS_SCROLL_Y[32*LAYER +: 32];
`ifdef FAULT_SCROLL_LATE
  // across, the scroll counts a dot too late
  reg [SCROLLED-1:0] scroll_x;
  initial scroll_x = 0;
  always @(posedge clk) if (step) scroll_x <= SCROLL_X < 0 ? {SCROLLED{1'b0}} : controls[32*(SCROLL_X < 0 ? 0 : SCROLL_X) +: SCROLLED];
`else
  wire [SCROLLED-1:0] scroll_x = SCROLL_X < 0 ? {SCROLLED{1'b0}} : controls[32*(SCROLL_X < 0 ? 0 : SCROLL_X) +: SCROLLED];
`endif
  wire [SCROLLED-1:0] scroll_y = SCROLL_Y < 0 ? {SCROLLED{1'b0}} : controls[32*(SCROLL_Y < 0 ? 0 : SCROLL_Y) +: SCROLLED];

  // a bank and colours of a text that stand in registers
  localparam integer BANK = LAYERS_BANK[32*LAYER +: 32];
  localparam integer K = BANK_SAID > 0 ? BANK_SAID : 1;
  wire [K-1:0] bank = BANK < 0 ? {K{1'b0}} : controls[32*(BANK < 0 ? 0 : BANK) +: K];
  reg [K-1:0] bank_then;
  localparam integer C = COLOUR_SAID > 0 ? COLOUR_SAID : 1;
  wire [C*COUNT-1:0] fore, back;
  reg [C-1:0] fore_then, back_then;
  wire [3:0] mode_now = mode - FIRST;
  reg [3:0] mode_then;
  reg shown_then, stepped;
  always @(posedge clk) begin
    stepped <= step;
    if (step) begin
      mode_then <= mode_now;
      bank_then <= bank;
      fore_then <= fore[C*mode_now +: C];
      back_then <= back[C*mode_now +: C];
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
      wire [23:0] m_address, m_colours;
      localparam integer FORE = MODES_FOREGROUND[32*(FIRST+m) +: 32];
      localparam integer BACK = MODES_BACKGROUND[32*(FIRST+m) +: 32];
      assign fore[C*m +: C] = FORE < 0 ? {C{1'b0}} : controls[32*(FORE < 0 ? 0 : FORE) +: C];
      assign back[C*m +: C] = BACK < 0 ? {C{1'b0}} : controls[32*(BACK < 0 ? 0 : BACK) +: C];
      scan_mode #(.MODE(FIRST + m)) scanner (
        .clk(clk), .step(step), .on(shown && shows && mode == FIRST + m), .dot(dot),
        .own_line(own_line), .scroll_x(scroll_x), .scroll_y(scroll_y), .controls(controls),
        .kind(m_kind), .first(m_first), .place(m_place), .row(m_row),
        .address(m_address), .colours(m_colours));
      always @* answers[ANSWER*m +: ANSWER] = {m_kind, m_first, m_place, m_row, m_address, m_colours};
    end
  endgenerate

  wire [1:0] kind = shown_then ? answer[ANSWER-1 -: 2] : DOT_CLEAR;
  wire first = kind == DOT_GROUP && answer[ANSWER-3];
  assign group_mode = mode_then + FIRST;
  assign said[SAID-1 -: 7] = {kind, first, group_mode};
  assign said[5:0] = answer[ANSWER-4 -: 6];
  generate
    if (COLOUR_SAID > 0) begin : with_colours
      assign said[6 +: 2*C] = {fore_then, back_then};
    end
    if (BANK_SAID > 0) begin : with_bank
      assign said[6+2*COLOUR_SAID +: K] = bank_then;
    end
  endgenerate
  assign group_begins = stepped && first;
  assign row = answer[48 +: 6];
  assign address = answer[24 +: 24];
  assign colours = answer[0 +: 24];
endmodule
