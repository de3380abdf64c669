// Writes to what the picture reads, as late as the picture is.
//
// A write comes when the scanner is at its dot. Here it waits until the picture is: two lines and
// the stages of the picture later. While writes of that moment have still to be done, `stall` keeps
// the beam from going on.
module history (clk, reset, now, put, entry, due, stall, first, overflow);
  `include "design.vh"
  parameter integer WIDTH = 8;
  parameter integer LATE = 2;          // ticks that the reader is later than the picture's step
  parameter [8*48-1:0] WHAT = "writes";  // what they are, for who offers too many
  localparam integer ADDRESS = waiting_bits(2 * TICKS + LATE);
  input clk, reset, put;
  input [15:0] now;                    // counts ticks
  input [WIDTH-1:0] entry;
  output due;                          // `first` is to be done now
  output stall;
  output [WIDTH-1:0] first;
  output reg overflow;

  reg [ADDRESS:0] held;
  wire [15:0] when;
  wire there;
  queue #(.WIDTH(16 + WIDTH), .ADDRESS(ADDRESS), .WHAT(WHAT)) writes (
    .clk(clk), .reset(reset), .put(put), .entry({now, entry}), .take(due),
    .first({when, first}), .there(there));
  wire [15:0] seen = there ? now : 16'd0;
  reg is_due;
  reg [15:0] age;
  always @* begin
    is_due = 0;
    age = 0;
    if (there) begin
      age = seen - when;
      is_due = age >= 2 * TICKS + LATE;
    end
  end
  assign due = is_due;
  assign stall = due;
  wire works = reset || put || due;
  always @(posedge clk)
    if (!works) begin
    end else if (reset) begin
      held <= 0; overflow <= 0;
    end else begin
      held <= held + {{ADDRESS{1'b0}}, put} - {{ADDRESS{1'b0}}, due};
      if (put && held == 1 << ADDRESS) overflow <= 1;
    end
endmodule
