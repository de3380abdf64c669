// Which mode each layer shows, and which ladder counts.
//
// It knows zones, exclusive modes and the order in which layers are asked. It follows from the
// line and the controls alone, so it changes rarely; nothing is clocked.
module say (line, controls, shows, modes, own_lines, ladder);
  `include "design.vh"
  input [15:0] line;
  input [32*CONTROLS-1:0] controls;
  output reg [LAYERS-1:0] shows;
  output [4*LAYERS-1:0] modes;         // numbers among all layers' modes
  output [16*LAYERS-1:0] own_lines;    // the mode's line t
  output reg [3:0] ladder;

  wire [LAYERS-1:0] enabled;
  genvar l;
  generate
    for (l = 0; l < LAYERS; l = l + 1) begin : a_layer
      localparam integer FIRST = LAYERS_FIRST_MODE[32*l +: 32];
      localparam integer COUNT = LAYERS_MODES[32*l +: 32];
      localparam integer ENABLE = LAYERS_ENABLE[32*l +: 32];
      localparam integer MODE = LAYERS_MODE[32*l +: 32];
      localparam integer BELOW = LAYERS_BELOW[32*l +: 32];
      localparam integer SPLIT = LAYERS_SPLIT[32*l +: 32];
      if (ENABLE < 0) begin : always_on
        assign enabled[l] = 1'b1;
      end else begin : switched
        assign enabled[l] = controls[32*ENABLE];
      end
      if (COUNT == 1 || MODE < 0) begin : one
        assign modes[4*l +: 4] = FIRST;
        assign own_lines[16*l +: 16] = line;
      end else begin : several
        wire lower = SPLIT >= 0 && {16'd0, line} >= controls[32*(SPLIT < 0 ? 0 : SPLIT) +: 32];
        wire [3:0] mode = FIRST + (lower ? controls[32*(BELOW < 0 ? 0 : BELOW) +: 4] : controls[32*MODE +: 4]);
        assign modes[4*l +: 4] = mode;
        assign own_lines[16*l +: 16] = lower && MODES_FROM_ZONE[32*mode]
`ifdef FAULT_ZONE
            ? line + 16'd1 - controls[32*(SPLIT < 0 ? 0 : SPLIT) +: 16] : line;
`else
            ? line - controls[32*(SPLIT < 0 ? 0 : SPLIT) +: 16] : line;
`endif
      end
    end
  endgenerate

  integer i;
  reg [LAYERS-1:0] off;
  reg [31:0] exclusive, own_ladder;
  reg found;
  always @* begin
    off = 0;
    ladder = 0;
    found = 0;
    exclusive = 0;
    own_ladder = 0;
    for (i = 0; i < LAYERS; i = i + 1) begin
      exclusive = MODES_EXCLUSIVE[32*modes[4*i +: 4] +: 32];
      own_ladder = MODES_LADDER[32*modes[4*i +: 4] +: 32];
      if (enabled[i] && !off[i] && exclusive != ~32'd0) begin
        off = off | exclusive[LAYERS-1:0];
        if (!found && own_ladder != ~32'd0) begin
          ladder = own_ladder[3:0];
          found = 1;
        end
      end
    end
    shows = enabled & ~off;
  end
endmodule
