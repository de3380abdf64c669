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

  wire [PLACES_OF_BITS-1:0] offered;   // shadow with the byte written
  wire [PLACES_OF_BITS-1:0] shadow_next;
  wire [32*FIELDS-1:0] gathered, cut, set_next, of_line, of_frame, reset_raw;
  wire [FIELDS-1:0] set_now, wait_now; // fields that this byte sets, or lets wait

  // fields with a bit in a byte of a register: what = 0 those that the byte sets, 1 those that it
  // lets wait; 2: fields of the register that are set by its highest byte if a bit of them waits
  function [FIELDS-1:0] fields_of;
    input integer number, byte_of, what;
    integer n, field, waits, high;
    begin
      fields_of = 0;
`ifdef FAULT_HALF_WRITE
      waits = 0;
`else
      waits = REGISTERS_WAITS[32*number +: 32];
`endif
      high = (REGISTERS_BITS[32*number +: 32] - 1) / 8;
      for (n = 0; n < REGISTER_BITS; n = n + 1) begin
        field = REGISTERS_BIT_FIELD[32*(REGISTER_BITS*number + n) +: 32];
        if (field >= 0) begin
          if (what == 0 && n / 8 == byte_of
              && (waits == 0 || (FIELDS_SPLIT[32*field +: 32] == 0 && byte_of == high)))
            fields_of = fields_of | ({{(FIELDS-1){1'b0}}, 1'b1} << field);
          if (what == 1 && n / 8 == byte_of && waits != 0 && FIELDS_SPLIT[32*field +: 32] == 0
              && byte_of != high)
            fields_of = fields_of | ({{(FIELDS-1){1'b0}}, 1'b1} << field);
          if (what == 2 && waits != 0 && byte_of == high && FIELDS_SPLIT[32*field +: 32] == 0)
            fields_of = fields_of | ({{(FIELDS-1){1'b0}}, 1'b1} << field);
        end
      end
    end
  endfunction

  localparam integer BYTES = REGISTER_BITS / 8;
  genvar n;
  generate
    for (n = 0; n < REGISTERS * BYTES; n = n + 1) begin : a_byte
      localparam integer REGISTER = n / BYTES;
      localparam integer OF = n % BYTES;
      localparam integer BITS = REGISTERS_BITS[32*REGISTER +: 32];
      localparam [FIELDS-1:0] SETS = fields_of(REGISTER, OF, 0);
      localparam [FIELDS-1:0] WAITS = fields_of(REGISTER, OF, 1);
      localparam [FIELDS-1:0] SETS_IF_WAITS = fields_of(REGISTER, OF, 2);
      wire here = 8*OF < BITS && {16'd0, address} == REGISTERS_ADDRESS[32*REGISTER +: 32] + OF;
      wire written = here && write;
      wire [FIELDS-1:0] sets, waits, sets_before, waits_before;
      wire [7:0] seen, seen_before;
      if (n == 0) begin : first
        assign sets_before = 0;
        assign waits_before = 0;
        assign seen_before = 0;
      end else begin : later
        assign sets_before = a_byte[n-1].sets;
        assign waits_before = a_byte[n-1].waits;
        assign seen_before = a_byte[n-1].seen;
      end
      assign sets = sets_before | (written ? SETS | (SETS_IF_WAITS & waiting) : {FIELDS{1'b0}});
      assign waits = waits_before | (written ? WAITS : {FIELDS{1'b0}});
      assign seen = seen_before | (here && REGISTERS_READABLE[32*REGISTER] ? shadow[8*n +: 8] : 8'd0);
      localparam [7:0] OURS = 8*OF + 8 <= BITS ? 8'hff : 8*OF < BITS ? (1 << (BITS - 8*OF)) - 1 : 0;
      assign offered[8*n +: 8] = written ? data & OURS | shadow[8*n +: 8] & ~OURS : shadow[8*n +: 8];
      assign shadow_next[8*n +: 8] = {a_bit[8*n+7].next, a_bit[8*n+6].next, a_bit[8*n+5].next, a_bit[8*n+4].next,
          a_bit[8*n+3].next, a_bit[8*n+2].next, a_bit[8*n+1].next, a_bit[8*n].next};
    end
  endgenerate
  assign set_now = a_byte[REGISTERS*BYTES-1].sets;
  assign wait_now = a_byte[REGISTERS*BYTES-1].waits;
  assign read_data = a_byte[REGISTERS*BYTES-1].seen;

  genvar r, f, c;
  generate
    for (r = 0; r < PLACES_OF_BITS; r = r + 1) begin : a_bit
      wire next;
      localparam integer FIELD = REGISTERS_BIT_FIELD[32*r +: 32];
      localparam integer OF = REGISTERS_BIT_OF[32*r +: 32];
      if (FIELD >= 0) begin : named
        assign gathered[32*FIELD+OF] = offered[r];
        assign next = set_now[FIELD] ? cut[32*FIELD+OF] : offered[r];
      end else begin : unnamed
        assign next = offered[r];
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
