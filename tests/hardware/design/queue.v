// A queue in a block of memory whose first entry stands ready.
//
// An entry can be seen from the second tick after it was put in. The reader takes one a tick.
module queue (clk, reset, put, entry, take, first, there);
  parameter integer WIDTH = 8;
  parameter integer ADDRESS = 9;
  parameter [8*48-1:0] WHAT = "groups of a place"; // what waits, for who offers too many
  input clk, reset, put, take;
  input [WIDTH-1:0] entry;
  output reg [WIDTH-1:0] first;
  output reg there;

  reg [WIDTH-1:0] kept [0:(1<<ADDRESS)-1];
  reg [ADDRESS-1:0] in, out;
  wire [ADDRESS-1:0] next = out + {{(ADDRESS-1){1'b0}}, take};

  // a simulation looks at all queues on every clock; most have nothing to do
  wire works = reset || put || take || !there && in != out;
  always @(posedge clk) if (works) begin
    if (put) kept[in] <= entry;
    if (reset) begin
      in <= 0; out <= 0; there <= 0;
    end else begin
      if (put) in <= in + 1'b1;
      if (take || !there && in != out) begin
        first <= kept[next];
        out <= next;
        there <= next != in;
      end
    end
  end

`ifndef SYNTHESIS
  integer held;
  reg [8*48-1:0] what;
  initial begin
    held = 0;
    what = WHAT;
  end
  always @(posedge clk) if (works) begin
    held <= reset ? 0 : held + {31'd0, put} - {31'd0, take};
    if (put && !take && held == 1 << ADDRESS) begin
      $display("this design does not do: more than %0d %0s", 1 << ADDRESS, what);
      $finish;
    end
  end
`endif
endmodule
