// Who shows at a dot, and which sprites collide there.
//
// It knows the ladders. Each rung asks its source: a layer's dot, or the front-most sprite's, which
// stands at its own rung; or, rung by rung, the front-most of the sprites that stand there. A pair of sprites is told once a line, at its leftmost dot. Answers stand
// a tick after `step`.
module mixer (
    clk, reset, tick, step, begins, ladder, backdrop, opaque, entries, cells, cell_modes,
    mask, sprite_entry, numbers, groups, tests,
    entry, source, rung, sprite, met, collides, first_of_line, collided
);
  `include "design.vh"
  localparam integer N = SPRITE_SLOTS;
  input clk, reset, tick, step;
  input begins;                        // with step: dot 0 of the line
  input [3:0] ladder;
  input [15:0] backdrop;
  input [LAYERS-1:0] opaque;
  input [16*LAYERS-1:0] entries, cells;
  input [4*LAYERS-1:0] cell_modes;
  input [N-1:0] mask;
  input [ENTRY_BITS-1:0] sprite_entry;
  input [SPRITE_NUMBER*N-1:0] numbers;
  input [8*N-1:0] groups;
  input [RUNGS*N-1:0] tests;
  output reg [15:0] entry;
  output reg [7:0] source, rung;
  output reg [SPRITE_NUMBER-1:0] sprite;      // NO_SPRITE: none
  output reg [N*N-1:0] met;            // pairs a x N + b, a < b, told at this dot
  output reg collides;                 // some pair is told
  output reg first_of_line;            // and it is the line's first
  output reg [7:0] collided;           // groups of the pairs told

  // rungs of layers
  wire [RUNGS-1:0] in_force, layer_hits;
  genvar r;
  generate
    for (r = 0; r < RUNGS; r = r + 1) begin : a_rung
      localparam integer SOURCE = RUNGS_SOURCE[32*r +: 32];
      localparam integer FIELD = RUNGS_FIELD[32*r +: 32];
      localparam integer TEST = RUNGS_TEST[32*r +: 32];
      localparam integer NUMBER = RUNGS_NUMBER[32*r +: 32];
      wire [31:0] first = LADDERS_FIRST[32*ladder +: 32];
      wire [31:0] count = LADDERS_RUNGS[32*ladder +: 32];
      assign in_force[r] = r >= first && r < first + count;
      if (SOURCE == SOURCE_BACKDROP || SOURCE == LAYERS + 1) begin : other
        assign layer_hits[r] = 1'b0;
      end else begin : ours
        localparam integer LAYER = SOURCE - 1;
        wire holds;
        if (FIELD < 0) begin : always_holds
          assign holds = 1'b1;
        end else begin : asks
          wire [31:0] value;
          cell_field #(.LAYER(LAYER), .FIELD(FIELD)) field (
            .mode(cell_modes[4*LAYER +: 4]), .cell_word(cells[16*LAYER +: 16]), .value(value));
          condition #(.FIELD(FIELD), .TEST(TEST), .NUMBER(NUMBER)) test (.value(value), .holds(holds));
        end
        assign layer_hits[r] = in_force[r] && opaque[LAYER] && holds;
      end
    end
  endgenerate

  // the sprite that may show, and its rung: the front-most, or that of the first rung on which any stands
  integer i, s, a, b;
  reg any;
  reg [7:0] front, front_rung, layer_rung, winner, stands;
  reg [RUNGS-1:0] front_tests;
  always @* begin
    layer_rung = RUNGS;
    for (i = RUNGS - 1; i >= 0; i = i - 1)
      if (layer_hits[i]) layer_rung = i;
    front = 0;
    front_rung = RUNGS;
    any = mask != 0;
    front_tests = 0;
    stands = RUNGS;
    if (any && SPRITES_RUNG_BY_RUNG) begin
      for (s = 0; s < N; s = s + 1)
        if (mask[SPRITES_BACK_DROPPED ? N - 1 - s : s]) begin
          front_tests = tests[RUNGS*(SPRITES_BACK_DROPPED ? N - 1 - s : s) +: RUNGS] & in_force;
          stands = RUNGS;
          for (i = RUNGS - 1; i >= 0; i = i - 1)
            if (front_tests[i]) stands = i;
          if (stands <= front_rung) begin
            front = SPRITES_BACK_DROPPED ? N - 1 - s : s;
            front_rung = stands;
          end
        end
    end else if (any) begin
      for (i = 0; i < N; i = i + 1)
        if (mask[SPRITES_BACK_DROPPED ? N - 1 - i : i]) front = SPRITES_BACK_DROPPED ? N - 1 - i : i;
      front_tests = tests[RUNGS*front +: RUNGS] & in_force;
      for (i = RUNGS - 1; i >= 0; i = i - 1)
        if (front_tests[i]) front_rung = i;
    end
`ifdef FAULT_PRIORITY
    winner = any && front_rung != RUNGS ? front_rung : layer_rung;
`else
    winner = front_rung < layer_rung ? front_rung : layer_rung;
`endif
  end

  // one bit for each pair of groups
  wire [63:0] pair_told;
  genvar g;
  generate
    for (g = 0; g < 64; g = g + 1) begin : a_pair
      assign pair_told[g] = GROUPS_COLLIDE[32*g];
    end
  endgenerate

  // collisions, only where two sprites or more are opaque
  reg [N*N-1:0] told, new_pairs;
  reg [N-1:0] seen;                    // sprites of which this dot counts
  reg [7:0] new_groups;
  reg [RUNGS-1:0] own;
  reg told_any, shown;
  reg [7:0] group_a, group_b;
  always @* begin
    new_pairs = 0;
    new_groups = 0;
    seen = mask;
    own = 0;
    shown = 0;
    group_a = 0;
    group_b = 0;
    if (step && (mask & (mask - 1'b1)) != 0) begin
      if (!COLLISIONS_HIDDEN_DOTS)
        for (a = 0; a < N; a = a + 1) begin
          own = tests[RUNGS*a +: RUNGS] & in_force;
          shown = 0;
          for (i = RUNGS - 1; i >= 0; i = i - 1)
            if (own[i]) shown = i < layer_rung;
          if (!shown) seen[a] = 0;
        end
      for (a = 0; a < N; a = a + 1)
        for (b = a + 1; b < N; b = b + 1)
          if (seen[a] && seen[b]) begin
            group_a = groups[8*a +: 8];
            group_b = groups[8*b +: 8];
            if (group_a < GROUPS && group_b < GROUPS && (begins || !told[N*a + b]))
              if (pair_told[8*group_a[2:0] + group_b[2:0]]) begin
                new_pairs[N*a + b] = 1;
                new_groups = new_groups | (8'd1 << group_a) | (8'd1 << group_b);
              end
          end
`ifdef FAULT_COLLISION
      if (new_pairs != 0 && !told_any) new_pairs = new_pairs & (new_pairs - 1'b1);
`endif
    end
  end

  wire works = tick && (step || collides);
  always @(posedge clk)
    if (!works && !reset) begin
    end else if (reset) begin
      entry <= 0; source <= 0; rung <= 0; sprite <= 0; met <= 0; collides <= 0; first_of_line <= 0;
      collided <= 0; told <= 0; told_any <= 0;
    end else if (works) begin
      collides <= 0;
      first_of_line <= 0;
      collided <= 0;
      if (step) begin
        if (begins || new_pairs != 0) begin
          told <= (begins ? {(N*N){1'b0}} : told) | new_pairs;
          told_any <= (begins ? 1'b0 : told_any) || new_pairs != 0;
        end
        if (new_pairs != 0) begin
          met <= new_pairs;
          collides <= 1;
          first_of_line <= begins || !told_any;
          collided <= new_groups;
        end
        rung <= winner;
        sprite <= NO_SPRITE;
        if (winner == RUNGS) begin
          source <= SOURCE_BACKDROP;
          entry <= backdrop;
        end else begin
          source <= RUNGS_SOURCE[32*winner +: 8];
          if (RUNGS_SOURCE[32*winner +: 8] == LAYERS + 1) begin
            entry <= sprite_entry[16*(SPRITES_RUNG_BY_RUNG ? front : 8'd0) +: 16];
            sprite <= numbers[SPRITE_NUMBER*front +: SPRITE_NUMBER];
          end else entry <= entries[16*(RUNGS_SOURCE[32*winner +: 8] - 1) +: 16];
        end
      end
    end
endmodule

// A field of a layer's cell, for the condition of a rung; 0 where the mode's cells have none.
module cell_field (mode, cell_word, value);
  `include "design.vh"
  parameter integer LAYER = 0;
  parameter integer FIELD = 0;
  input [3:0] mode;
  input [15:0] cell_word;
  output reg [31:0] value;

  localparam integer FIRST = LAYERS_FIRST_MODE[32*LAYER +: 32];
  localparam integer COUNT = LAYERS_MODES[32*LAYER +: 32];
  localparam [32*16*MODES-1:0] PLACES_OF =
      FIELD == CONDITION_PATTERN ? CELLS_PATTERN : FIELD == CONDITION_FLIP_X ? CELLS_FLIP_X
      : FIELD == CONDITION_FLIP_Y ? CELLS_FLIP_Y : FIELD == CONDITION_TURN ? CELLS_TURN
      : FIELD == CONDITION_BANK ? CELLS_BANK : FIELD == CONDITION_PRIORITY ? CELLS_PRIORITY
      : FIELD == CONDITION_CHARACTER ? CELLS_CHARACTER
      : FIELD == CONDITION_FOREGROUND ? CELLS_FOREGROUND
      : FIELD == CONDITION_BACKGROUND ? CELLS_BACKGROUND : {(16*MODES){~32'd0}};
  reg [16*COUNT-1:0] values;
  genvar m;
  generate
    for (m = 0; m < COUNT; m = m + 1) begin : a_mode
      // of a bitmap's colour cells conditions ask the priority alone
      localparam [511:0] OWN = MODES_KIND[32*(FIRST+m) +: 32] == KIND_BITMAP && FIELD != CONDITION_PRIORITY
          ? ~512'd0 : PLACES_OF[512*(FIRST+m) +: 512];
      wire [15:0] own;
      field_bits #(.BITS(16), .PLACES(OWN)) of_field (.word(cell_word), .value(own));
      always @* values[16*m +: 16] = own;
    end
  endgenerate
  always @* value = {16'd0, values[16*(mode - FIRST) +: 16]};
endmodule
