// Writes to what the picture reads, as late as the picture is.
//
// A write comes when the scanner is at its dot. Here it waits until the picture is: two lines and
// the stages of the picture later. While writes of that moment have still to be done, `stall` keeps
// the beam from going on.
module history (clk, reset, tick, put, entry, due, stall, first, overflow);
  `include "design.vh"
  parameter integer WIDTH = 8;
  parameter integer LATE = 2;          // ticks that the reader is later than the picture's step
  parameter integer ADDRESS = 6;
  input clk, reset, tick, put;
  input [WIDTH-1:0] entry;
  output due;                          // `first` is to be done now
  output stall;
  output [WIDTH-1:0] first;
  output reg overflow;

  reg [15:0] now;
  reg [ADDRESS:0] held;
  wire [15:0] when;
  wire there;
  queue #(.WIDTH(16 + WIDTH), .ADDRESS(ADDRESS)) writes (
    .clk(clk), .reset(reset), .put(put), .entry({now, entry}), .take(due),
    .first({when, first}), .there(there));
  wire [15:0] age = now - when;
  assign due = there && age >= 2 * TICKS + LATE;
  assign stall = due;
  always @(posedge clk)
    if (reset) begin
      now <= 0; held <= 0; overflow <= 0;
    end else begin
      if (tick) now <= now + 16'd1;
      held <= held + {{ADDRESS{1'b0}}, put} - {{ADDRESS{1'b0}}, due};
      if (put && held == 1 << ADDRESS) overflow <= 1;
    end
endmodule
