// The fields of a sprite's record. It knows where their bits lie.
module sprite_fields (record, x, y, pattern, flip_x, flip_y, bank, size, group, enable, bias, tests);
  `include "design.vh"
  input [RECORD-1:0] record;
  output [31:0] x, y, pattern, bank, size, group;
  output flip_x, flip_y, enable, bias;
  output [RUNGS-1:0] tests;            // rung r is one of sprites and its condition holds

  wire [31:0] low_pattern, high_pattern, priority_field, a_flip_x, a_flip_y, an_enable, a_bias;
  genvar b, r;
  generate
    for (b = 0; b < SPRITES_FIELD_BITS; b = b + 1) begin : a_bit
      localparam integer X = SPRITES_X_PLACES[32*b +: 32];
      localparam integer Y = SPRITES_Y_PLACES[32*b +: 32];
      localparam integer PATTERN = SPRITES_PATTERN_PLACES[32*b +: 32];
      localparam integer HIGH = SPRITES_PATTERN_BANK_PLACES[32*b +: 32];
      localparam integer FLIP_X = SPRITES_FLIP_X_PLACES[32*b +: 32];
      localparam integer FLIP_Y = SPRITES_FLIP_Y_PLACES[32*b +: 32];
      localparam integer BANK = SPRITES_BANK_PLACES[32*b +: 32];
      localparam integer PRIORITY = SPRITES_PRIORITY_PLACES[32*b +: 32];
      localparam integer SIZE = SPRITES_SIZE_PLACES[32*b +: 32];
      localparam integer GROUP = SPRITES_GROUP_PLACES[32*b +: 32];
      localparam integer ENABLE = SPRITES_ENABLE_PLACES[32*b +: 32];
      localparam integer BIAS = SPRITES_X_BIAS_PLACES[32*b +: 32];
      assign x[b] = X < 0 ? 1'b0 : record[X < 0 ? 0 : X];
      assign y[b] = Y < 0 ? 1'b0 : record[Y < 0 ? 0 : Y];
      assign low_pattern[b] = PATTERN < 0 ? 1'b0 : record[PATTERN < 0 ? 0 : PATTERN];
      assign high_pattern[b] = HIGH < 0 ? 1'b0 : record[HIGH < 0 ? 0 : HIGH];
      assign a_flip_x[b] = FLIP_X < 0 ? 1'b0 : record[FLIP_X < 0 ? 0 : FLIP_X];
      assign a_flip_y[b] = FLIP_Y < 0 ? 1'b0 : record[FLIP_Y < 0 ? 0 : FLIP_Y];
`ifdef FAULT_WRONG_BANK
      assign bank[b] = BANK < 0 || b == 0 ? 1'b0 : record[BANK < 0 ? 0 : BANK];
`else
      assign bank[b] = BANK < 0 ? 1'b0 : record[BANK < 0 ? 0 : BANK];
`endif
      assign priority_field[b] = PRIORITY < 0 ? 1'b0 : record[PRIORITY < 0 ? 0 : PRIORITY];
      assign size[b] = SIZE < 0 ? 1'b0 : record[SIZE < 0 ? 0 : SIZE];
      assign group[b] = GROUP < 0 ? 1'b0 : record[GROUP < 0 ? 0 : GROUP];
      assign an_enable[b] = ENABLE < 0 ? b == 0 : record[ENABLE < 0 ? 0 : ENABLE];
      assign a_bias[b] = BIAS < 0 ? 1'b0 : record[BIAS < 0 ? 0 : BIAS];
    end
    for (r = 0; r < RUNGS; r = r + 1) begin : a_rung
      localparam integer SOURCE = RUNGS_SOURCE[32*r +: 32];
      localparam integer FIELD = RUNGS_FIELD[32*r +: 32];
      localparam integer TEST = RUNGS_TEST[32*r +: 32];
      localparam integer NUMBER = RUNGS_NUMBER[32*r +: 32];
      wire [31:0] asked = FIELD == CONDITION_PATTERN ? low_pattern
          : FIELD == CONDITION_FLIP_X ? a_flip_x : FIELD == CONDITION_FLIP_Y ? a_flip_y
          : FIELD == CONDITION_BANK ? bank : FIELD == CONDITION_PRIORITY ? priority_field
          : FIELD == CONDITION_SIZE ? size : FIELD == CONDITION_GROUP ? group
          : FIELD == CONDITION_ENABLE ? an_enable : FIELD == CONDITION_X_BIAS ? a_bias
          : FIELD == CONDITION_X ? x : FIELD == CONDITION_Y ? y
          : FIELD == CONDITION_PATTERN_BANK ? high_pattern : 32'd0;
      if (SOURCE != LAYERS + 1) begin : other
        assign tests[r] = 1'b0;
      end else begin : ours
        condition #(.FIELD(FIELD), .TEST(TEST), .NUMBER(NUMBER)) test (.value(asked), .holds(tests[r]));
      end
    end
  endgenerate
  assign pattern = low_pattern | (high_pattern << SPRITES_PATTERN_BITS);
  assign flip_x = a_flip_x[0];
  assign flip_y = a_flip_y[0];
  assign enable = an_enable[0];
  assign bias = a_bias[0];
endmodule

// Whether a rung's condition holds for the value of its field.
module condition (value, holds);
  `include "design.vh"
  parameter integer FIELD = -1;
  parameter integer TEST = 0;
  parameter integer NUMBER = 0;
  input [31:0] value;
  output holds;
  assign holds = FIELD < 0 || TEST == TEST_ALWAYS ? 1'b1
      : TEST == TEST_EQUAL ? value == NUMBER : TEST == TEST_UNEQUAL ? value != NUMBER
      : TEST == TEST_BELOW ? value < NUMBER : TEST == TEST_AT_MOST ? value <= NUMBER
      : TEST == TEST_ABOVE ? value > NUMBER : value >= NUMBER;
endmodule

// Whether a sprite lies on a line, and with which row.
module sprite_found (record, line, found, row);
  `include "design.vh"
  input [RECORD-1:0] record;
  input [15:0] line;
  output found;
  output [7:0] row;
  wire [31:0] y, size;
  wire enable;
  /* verilator lint_off PINCONNECTEMPTY */
  sprite_fields fields (.record(record), .x(), .y(y), .pattern(), .flip_x(), .flip_y(), .bank(),
    .size(size), .group(), .enable(enable), .bias(), .tests());
  /* verilator lint_on PINCONNECTEMPTY */
  wire [31:0] height = SPRITE_SIZES_HEIGHT[32*size[3:0] +: 32];
  wire [31:0] below = {16'd0, line} - y;
  wire [31:0] rows = SPRITES_WRAP_Y ? below & ((32'd1 << SPRITES_Y_BITS) - 1) : below;
  assign found = enable && rows < height;
  assign row = rows[7:0];
endmodule
