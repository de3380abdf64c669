// The flags that the CPU reads, and the groups that have collided.
module status (clk, reset, raised, groups_raised, clear, clear_groups, flags, groups);
  input clk, reset;
  input [7:0] raised, groups_raised, clear, clear_groups;
  output reg [7:0] flags, groups;
  // what is raised and cleared at one instant stays raised
  wire works = reset || raised != 0 || groups_raised != 0 || clear != 0 || clear_groups != 0;
  always @(posedge clk)
    if (!works) begin
    end else if (reset) begin
      flags <= 0; groups <= 0;
    end else begin
      flags <= (flags & ~clear) | raised;
      groups <= (groups & ~clear_groups) | groups_raised;
    end
endmodule
