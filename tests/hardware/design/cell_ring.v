// The cells that a place has told, for one of patterns or glyphs that hangs on it.
//
// It knows how far the place of cells CELLS may be ahead. Cells are told in the order of their groups,
// which are numbered through; one that is told can be used a tick later.
module cell_ring (clk, reset, tells, told, wanted, ours);
  `include "design.vh"
  parameter integer CELLS = 0;
  parameter integer NUMBER = 8;        // bits of a group's number
  input clk, reset, tells;
  input [16:0] told;                   // it was missed; its word
  input [NUMBER-1:0] wanted;           // number of the group
  output [17:0] ours;                  // it is there; it was missed; its word

  localparam integer LEAD = PLACES_LEAD[32*CELLS +: 32];
  localparam integer AHEAD = PLACES_WHEN[32*CELLS +: 32] == WHEN_IN_TIME && LEAD < FRAME_WIDTH
      ? LEAD + 8 : FRAME_WIDTH + 8;
  localparam integer RING = $clog2(AHEAD);
  reg [16:0] ring [0:(1<<RING)-1];
  reg [NUMBER-1:0] count;
  wire [NUMBER-1:0] ahead = count - wanted;
  wire hears = reset || tells;
  always @(posedge clk) if (hears) begin
    if (tells) ring[count[RING-1:0]] <= told;
    if (reset) count <= 0;
    else if (tells) count <= count + 1'b1;
  end
  assign ours = {ahead != 0 && !ahead[NUMBER-1], ring[wanted[RING-1:0]]};
endmodule
