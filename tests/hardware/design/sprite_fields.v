// The fields of a sprite's record. It knows where their bits lie.
module sprite_fields (record, x, y, pattern, flip_x, flip_y, bank, size, group, enable, bias, tests);
  `include "design.vh"
  input [RECORD-1:0] record;
  output [31:0] x, y, pattern, bank, size, group;
  output flip_x, flip_y, enable, bias;
  output [RUNGS-1:0] tests;            // rung r is one of sprites and its condition holds

  wire [31:0] low_pattern, high_pattern, priority_field, a_flip_x, a_flip_y, an_enable, enable_bits, a_bias;
  wire [31:0] whole_bank;
  field_bits #(.WORD(RECORD), .PLACES(SPRITES_X_PLACES)) of_x (.word(record), .value(x));
  field_bits #(.WORD(RECORD), .PLACES(SPRITES_Y_PLACES)) of_y (.word(record), .value(y));
  field_bits #(.WORD(RECORD), .PLACES(SPRITES_PATTERN_PLACES)) of_pattern (.word(record), .value(low_pattern));
  field_bits #(.WORD(RECORD), .PLACES(SPRITES_PATTERN_BANK_PLACES)) of_pattern_bank (.word(record), .value(high_pattern));
  field_bits #(.WORD(RECORD), .PLACES(SPRITES_FLIP_X_PLACES)) of_flip_x (.word(record), .value(a_flip_x));
  field_bits #(.WORD(RECORD), .PLACES(SPRITES_FLIP_Y_PLACES)) of_flip_y (.word(record), .value(a_flip_y));
  field_bits #(.WORD(RECORD), .PLACES(SPRITES_BANK_PLACES)) of_bank (.word(record), .value(whole_bank));
  field_bits #(.WORD(RECORD), .PLACES(SPRITES_PRIORITY_PLACES)) of_priority (.word(record), .value(priority_field));
  field_bits #(.WORD(RECORD), .PLACES(SPRITES_SIZE_PLACES)) of_size (.word(record), .value(size));
  field_bits #(.WORD(RECORD), .PLACES(SPRITES_GROUP_PLACES)) of_group (.word(record), .value(group));
  field_bits #(.WORD(RECORD), .PLACES(SPRITES_ENABLE_PLACES)) of_enable (.word(record), .value(enable_bits));
  field_bits #(.WORD(RECORD), .PLACES(SPRITES_X_BIAS_PLACES)) of_x_bias (.word(record), .value(a_bias));
`ifdef FAULT_WRONG_BANK
  assign bank = whole_bank & ~32'd1;
`else
  assign bank = whole_bank;
`endif
  assign an_enable = SPRITES_ENABLE_PLACES == ~1024'd0 ? 32'd1 : enable_bits; // a record without is always enabled
  genvar r;
  generate
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
