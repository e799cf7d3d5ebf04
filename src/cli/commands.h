/* The commands: each is given its own words (argv[0] its name) and returns the exit status. */
#ifndef PP_CLI_COMMANDS_H
#define PP_CLI_COMMANDS_H

/* One function a command: argv as main has it, from the command on; each returns the exit status of
 * the program (session.h) and has said on standard error what is wrong. */
int pp_cmd_bundle(int argc, char **argv);
int pp_cmd_compare(int argc, char **argv);
int pp_cmd_correct(int argc, char **argv);
int pp_cmd_history(int argc, char **argv);
int pp_cmd_inspect(int argc, char **argv); /* inspect, flatness, holddown, holes, stack, roughing */
int pp_cmd_pattern(int argc, char **argv);
int pp_cmd_pins(int argc, char **argv);
int pp_cmd_rules(int argc, char **argv);
int pp_cmd_sample(int argc, char **argv);
int pp_cmd_verify(int argc, char **argv);
int pp_cmd_pack(int argc, char **argv);
int pp_cmd_keys(int argc, char **argv);
int pp_cmd_sign(int argc, char **argv);
int pp_cmd_new(int argc, char **argv);
int pp_cmd_serve(int argc, char **argv);

#endif
