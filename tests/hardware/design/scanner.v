// The scanner: the dots of a line with the registers in force at each.
//
// It knows which mode every layer shows, lets each find where the dot lies, tells the memory's side
// of groups that begin, and keeps what it has said of two lines' dots until the picture shows them.
module scanner (
    clk, dot_end, scans, dot, line, turn, controls,
    begins, modes, rows, addresses, colours, begin_dot, begin_turn, begin_controls,
    shows_dot, show_turn, saying
);
  `include "design.vh"
  localparam integer SAYS = SAID * LAYERS + 16 + 4;
  input clk, dot_end;
  input scans;                         // the dot is one of the picture
  input [15:0] dot, line;
  input turn;
  input [32*CONTROLS-1:0] controls;
  // groups that begin, layer by layer, a tick after their dot
  output [LAYERS-1:0] begins;
  output [4*LAYERS-1:0] modes;
  output [6*LAYERS-1:0] rows;
  output [24*LAYERS-1:0] addresses, colours;
  output reg [15:0] begin_dot;
  output reg begin_turn;
  output reg [32*CONTROLS-1:0] begin_controls; // in force at that dot
  // the picture's side
  input shows_dot, show_turn;          // it shows `dot`
  output reg [SAYS-1:0] saying;        // a tick later what was said of it: layers, backdrop, ladder

  wire [LAYERS-1:0] shows;
  wire [4*LAYERS-1:0] modes_now;
  wire [16*LAYERS-1:0] own_lines;
  wire [3:0] ladder;
  say say (.line(line), .controls(controls), .shows(shows), .modes(modes_now), .own_lines(own_lines),
           .ladder(ladder));

  reg [15:0] said_backdrop;
  reg [3:0] said_ladder;
  reg scanned;
  always @(posedge clk) begin
    scanned <= dot_end && scans;
    if (dot_end) begin
      begin_dot <= dot;
      begin_turn <= turn;
      begin_controls <= controls;
`ifdef FAULT_BACKDROP
      said_backdrop <= begin_controls[32*CONTROL_BACKDROP +: 16];  // as it was a dot before
`else
      said_backdrop <= controls[32*CONTROL_BACKDROP +: 16];
`endif
      said_ladder <= ladder;
    end
  end

  wire [SAID*LAYERS-1:0] said;
  genvar l;
  generate
    for (l = 0; l < LAYERS; l = l + 1) begin : a_scan
      scan_layer #(.LAYER(l)) layer (
        .clk(clk), .step(dot_end && scans), .shown(scans), .dot(dot), .controls(controls),
        .shows(shows[l]), .mode(modes_now[4*l +: 4]), .own_line(own_lines[16*l +: 16]),
        .said(said[SAID*l +: SAID]), .group_begins(begins[l]), .group_mode(modes[4*l +: 4]),
        .row(rows[6*l +: 6]), .address(addresses[24*l +: 24]), .colours(colours[24*l +: 24]));
    end
  endgenerate

  reg [SAYS-1:0] sayings [0:(2<<DOT_BITS)-1];
  always @(posedge clk)
    if (scanned) sayings[{begin_turn, begin_dot[DOT_BITS-1:0]}] <= {said, said_backdrop, said_ladder};
  always @(posedge clk) if (shows_dot) saying <= sayings[{show_turn, dot[DOT_BITS-1:0]}];
endmodule
