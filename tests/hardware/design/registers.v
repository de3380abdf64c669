// The registers of the CPU's bus and the fields in them.
//
// It knows the layout of registers only: which bit of which register is which bit of which field.
// `shadow` has the bits as they were last written. A field's bits in it are those of the number it
// was last set to, but for bits that wait; so to set a field is to gather its bits from there. A
// number beyond the field's largest is cut, and the cut number goes back into `shadow`, where the
// CPU reads it.
module registers (
    clk, reset, write, address, data, begins_line, begins_frame, controls, read_data
);
  `include "design.vh"
  localparam integer PLACES_OF_BITS = REGISTERS * REGISTER_BITS;
  input clk, reset, write;
  input [15:0] address;
  input [7:0] data;
  input begins_line, begins_frame;
  output [32*CONTROLS-1:0] controls;   // every control's value in force
  output [7:0] read_data;              // the byte at `address`

  reg [PLACES_OF_BITS-1:0] shadow;
  reg [32*FIELDS-1:0] last_set;        // raw numbers as last set
  reg [32*FIELDS-1:0] taken;           // those that a line or frame has taken
  reg [FIELDS-1:0] waiting;            // fields within one register of which bits wait

  reg [PLACES_OF_BITS-1:0] offered;    // shadow with the byte written
  wire [PLACES_OF_BITS-1:0] shadow_next;
  wire [32*FIELDS-1:0] gathered, cut, set_next, of_line, of_frame, reset_raw;
  reg [FIELDS-1:0] set_now, wait_now;  // fields that this byte sets, or lets wait
  reg [7:0] seen;
  assign read_data = seen;

  integer i, j;
  reg [31:0] first, bits, high, field;
  always @* begin
    offered = shadow;
    set_now = 0;
    wait_now = 0;
    seen = 0;
    first = 0;
    bits = 0;
    high = 0;
    field = 0;
    for (i = 0; i < REGISTERS; i = i + 1) begin
      first = REGISTERS_ADDRESS[32*i +: 32];
      bits = REGISTERS_BITS[32*i +: 32];
      high = first + (bits - 1) / 8;
      if ({16'd0, address} >= first && {16'd0, address} <= high) begin
        if (REGISTERS_READABLE[32*i]) seen = shadow[32*i + 8*(address - first) +: 8];
        if (write) begin
          for (j = 0; j < 8; j = j + 1)
            if (8*(address - first) + j < bits) begin
              offered[32*i + 8*(address - first) + j] = data[j];
              field = REGISTERS_BIT_FIELD[32*(32*i + 8*(address - first) + j) +: 32];
              if (field != ~32'd0) begin
                if (!REGISTERS_WAITS[32*i]) set_now[field] = 1;
                else if (!FIELDS_SPLIT[32*field]) begin
                  if ({16'd0, address} == high) set_now[field] = 1;
                  else wait_now[field] = 1;
                end
              end
            end
          if (REGISTERS_WAITS[32*i] && {16'd0, address} == high)
            for (j = 0; j < REGISTER_BITS; j = j + 1) begin
              field = REGISTERS_BIT_FIELD[32*(32*i + j) +: 32];
              if (field != ~32'd0)
                if (!FIELDS_SPLIT[32*field] && waiting[field]) set_now[field] = 1;
            end
        end
      end
    end
  end

  genvar r, f, c;
  generate
    for (r = 0; r < PLACES_OF_BITS; r = r + 1) begin : a_bit
      localparam integer FIELD = REGISTERS_BIT_FIELD[32*r +: 32];
      localparam integer OF = REGISTERS_BIT_OF[32*r +: 32];
      if (FIELD >= 0) begin : named
        assign gathered[32*FIELD+OF] = offered[r];
        assign shadow_next[r] = set_now[FIELD] ? cut[32*FIELD+OF] : offered[r];
      end else begin : unnamed
        assign shadow_next[r] = offered[r];
      end
    end

    for (f = 0; f < FIELDS; f = f + 1) begin : a_field
      localparam integer BITS = FIELDS_BITS[32*f +: 32];
      localparam integer STEP = FIELDS_STEP[32*f +: 32];
      localparam integer TOP = FIELDS_TOP[32*f +: 32];
      localparam integer EFFECT = FIELDS_EFFECT[32*f +: 32];
      localparam [31:0] RESET = FIELDS_RESET[32*f +: 32];
      wire [31:0] raw = {{(32-BITS){1'b0}}, gathered[32*f +: BITS]};
      assign cut[32*f +: 32] = raw > TOP / STEP ? TOP / STEP : raw;
      assign set_next[32*f +: 32] = set_now[f] ? cut[32*f +: 32] : last_set[32*f +: 32];
      assign of_line[32*f +: 32] = EFFECT == EFFECT_NEXT_LINE ? ~32'd0 : 32'd0;
      assign of_frame[32*f +: 32] = EFFECT == EFFECT_NEXT_FRAME ? ~32'd0 : 32'd0;
      assign reset_raw[32*f +: 32] = RESET / STEP;
    end

    for (c = 0; c < CONTROLS; c = c + 1) begin : a_control
      localparam integer FIELD = CONTROLS_FIELD[32*c +: 32];
      if (FIELD < 0) begin : wired
        assign controls[32*c +: 32] = CONTROLS_RESET[32*c +: 32];
      end else begin : set
        localparam integer STEP = FIELDS_STEP[32*FIELD +: 32];
        localparam integer EFFECT = FIELDS_EFFECT[32*FIELD +: 32];
        if (EFFECT == EFFECT_AT_ONCE) begin : now
          assign controls[32*c +: 32] = last_set[32*FIELD +: 32] * STEP;
        end else begin : later
          assign controls[32*c +: 32] = taken[32*FIELD +: 32] * STEP;
        end
      end
    end
  endgenerate

  wire works = reset || write || begins_line || begins_frame;
  always @(posedge clk)
    if (!works) begin
    end else if (reset) begin
      shadow <= REGISTERS_RESET;
      last_set <= reset_raw;
      taken <= reset_raw;
      waiting <= 0;
    end else begin
      if (write) begin
        shadow <= shadow_next;
        last_set <= set_next;
        waiting <= (waiting | wait_now) & ~set_now;
      end
      if (begins_line) taken <= (taken & ~of_line) | (last_set & of_line);
      if (begins_frame) taken <= (taken & ~of_line & ~of_frame) | (last_set & (of_line | of_frame));
    end
endmodule
