// The picture: dots and flags, two lines after the scanner.
//
// It knows the steps between what the scanner said of a dot and the entry that shows, and at which
// dot a flag is raised. Step 1 takes the groups, step 2 finds their dots, step 3 mixes, step 4 reads
// the palette; then the colour is there.
module picture (
    clk, reset, tick, dot, dot_end, line, kind, line_hit, drops, shows_dot, saying, kept, takes,
    mask, sprite_entry, slot_numbers, slot_groups, slot_tests,
    mixed_entry, raised, groups_raised, flag_line, flag_dot, meets, met,
    dot_shows, dot_entry, dot_source, dot_rung, dot_sprite, dot_line, dot_number
);
  `include "design.vh"
  localparam integer N = SPRITE_SLOTS;
  localparam integer SAYS = SAID * LAYERS + 16 + 4;
  input clk, reset, tick;
  input [15:0] dot, line;              // that shows
  input dot_end;
  input [1:0] kind;
  input line_hit, drops;               // the line is the flag's; it drops a sprite
  input shows_dot;                     // the dot is one of the picture
  input [SAYS-1:0] saying;             // a tick after it
  input [KEPT*PLACES-1:0] kept;
  output [PLACES-1:0] takes;
  input [N-1:0] mask;
  input [ENTRY_BITS-1:0] sprite_entry;
  input [SPRITE_NUMBER*N-1:0] slot_numbers;
  input [8*N-1:0] slot_groups;
  input [RUNGS*N-1:0] slot_tests;
  output [15:0] mixed_entry;           // for the palette
  output reg [7:0] raised;
  output [7:0] groups_raised;
  output [15:0] flag_line, flag_dot;
  output meets;
  output [N*N-1:0] met;
  // the dot, when its colour is there
  output reg dot_shows;
  output reg [15:0] dot_entry, dot_line, dot_number;
  output reg [7:0] dot_source, dot_rung;
  output reg [SPRITE_NUMBER-1:0] dot_sprite;

  reg [5:1] step;
  reg [15:0] dot_1, dot_2, dot_3, dot_4, dot_5, line_1, line_2, line_3, line_4, line_5;
  reg [15:0] backdrop_2, backdrop_3;
  reg [3:0] ladder_2, ladder_3;
  reg [N-1:0] mask_2, mask_3;
  reg [ENTRY_BITS-1:0] sprite_entry_2, sprite_entry_3;
  wire [LAYERS-1:0] opaque;
  wire [16*LAYERS-1:0] entries, cells;
  wire [4*LAYERS-1:0] cell_modes;
  wire [PLACES*LAYERS-1:0] layer_takes;
  integer i;
  genvar l;
  generate
    for (l = 0; l < LAYERS; l = l + 1) begin : a_draw
      draw_layer #(.LAYER(l)) layer (
        .clk(clk), .reset(reset), .tick(tick), .step(step[1] && tick), .said(saying[20+SAID*l +: SAID]),
        .kept(kept), .takes(layer_takes[PLACES*l +: PLACES]), .opaque(opaque[l]),
        .entry(entries[16*l +: 16]), .cell_word(cells[16*l +: 16]), .cell_mode(cell_modes[4*l +: 4]));
    end
  endgenerate
  reg [PLACES-1:0] all_takes;
  always @* begin
    all_takes = 0;
    for (i = 0; i < LAYERS; i = i + 1) all_takes = all_takes | layer_takes[PLACES*i +: PLACES];
  end
  assign takes = all_takes;

  reg [4:1] raises_line, raises_end, raises_drop;
`ifdef FAULT_FLAG_LATE
  reg late_line;
  always @(posedge clk) if (tick) late_line <= raises_line[4];
`else
  wire late_line = raises_line[4];
`endif
  wire [15:0] entry_4;
  wire [7:0] source_4, rung_4, collided_4;
  wire [SPRITE_NUMBER-1:0] sprite_4;
  wire [N*N-1:0] met_4;
  wire collides_4, first_4;
  mixer mixer (
    .clk(clk), .reset(reset), .tick(tick), .step(step[3]), .begins(dot_3 == 0), .ladder(ladder_3),
    .backdrop(backdrop_3), .opaque(opaque), .entries(entries), .cells(cells),
    .cell_modes(cell_modes), .mask(mask_3), .sprite_entry(sprite_entry_3), .numbers(slot_numbers),
    .groups(slot_groups), .tests(slot_tests), .entry(entry_4), .source(source_4), .rung(rung_4),
    .sprite(sprite_4), .met(met_4), .collides(collides_4), .first_of_line(first_4),
    .collided(collided_4));
  reg [15:0] entry_5;
  reg [7:0] source_5, rung_5;
  reg [SPRITE_NUMBER-1:0] sprite_5;
  wire line_zero = dot_end && dot == 0 && kind == LINE_FRAME;
  always @(posedge clk)
    if (reset) begin
      step <= 0; dot_shows <= 0;
      raises_line <= 0; raises_end <= 0; raises_drop <= 0;
    end else begin
      dot_shows <= 0;
      if (tick) begin
        step <= {step[4:1], shows_dot};
        raises_line <= {raises_line[3:1], line_zero && line_hit};
        raises_end <= {raises_end[3:1], line_zero
            && line == (FRAME_HEIGHT < FRAME_LINES_PER_FRAME ? FRAME_HEIGHT : 0)};
        raises_drop <= {raises_drop[3:1], line_zero && line < FRAME_HEIGHT && drops};
        dot_1 <= dot; dot_2 <= dot_1; dot_3 <= dot_2; dot_4 <= dot_3; dot_5 <= dot_4;
        line_1 <= line; line_2 <= line_1; line_3 <= line_2; line_4 <= line_3; line_5 <= line_4;
        if (step[1]) begin
          mask_2 <= mask; sprite_entry_2 <= sprite_entry;
          backdrop_2 <= saying[19:4]; ladder_2 <= saying[3:0];
        end
        if (step[2]) begin
          mask_3 <= mask_2; sprite_entry_3 <= sprite_entry_2;
          backdrop_3 <= backdrop_2; ladder_3 <= ladder_2;
        end
        if (step[4]) begin
          entry_5 <= entry_4; source_5 <= source_4; rung_5 <= rung_4; sprite_5 <= sprite_4;
        end
        if (step[5]) begin
          dot_entry <= entry_5; dot_source <= source_5; dot_rung <= rung_5;
          dot_sprite <= sprite_5; dot_line <= line_5; dot_number <= dot_5; dot_shows <= 1;
        end
      end
    end

  // flags
  always @* begin
    raised = 0;
    if (STATUS_LINE >= 0 && late_line) raised[STATUS_LINE < 0 ? 0 : STATUS_LINE] = 1;
    if (STATUS_PICTURE_END >= 0 && raises_end[4]) raised[STATUS_PICTURE_END < 0 ? 0 : STATUS_PICTURE_END] = 1;
    if (STATUS_DROPPED >= 0 && raises_drop[4]) raised[STATUS_DROPPED < 0 ? 0 : STATUS_DROPPED] = 1;
    if (STATUS_COLLISION >= 0 && first_4) raised[STATUS_COLLISION < 0 ? 0 : STATUS_COLLISION] = 1;
  end
  assign mixed_entry = entry_4;
  assign groups_raised = collided_4;
  assign flag_line = line_4;
  assign flag_dot = dot_4;
  assign meets = collides_4;
  assign met = met_4;
endmodule
