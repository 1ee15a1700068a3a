/* Feeds a follower what encoders read, and prints when it starts which turn.
 * Arguments: plan file, encoder file, microseconds that the encoder file's clock starts at. */
#include <stdio.h>
#include <stdlib.h>

#include "rig-plan-drive.h"
#include "rig-plan-follower.h"

static const rig_lead leads[RIG_LEADS] = RIG_LEAD_TABLE;

static char *whole(const char *path, size_t *length)
{
    FILE *file = fopen(path, "rb");
    char *text = NULL;
    long size;
    if (file == NULL || fseek(file, 0, SEEK_END) != 0 || (size = ftell(file)) < 0)
        return NULL;
    rewind(file);
    text = malloc((size_t)size + 1);
    if (text != NULL && fread(text, 1, (size_t)size, file) != (size_t)size)
        return NULL;
    fclose(file);
    *length = (size_t)size;
    return text;
}

int main(int argc, char **argv)
{
    static rig_plan plan;
    static rig_follower follower;
    size_t length = 0;
    uint32_t begin_us;
    char *text;
    FILE *encoders;
    char line[256];
    double ms = 0.0, deg[RIG_FACES] = {0.0};
    int held = 0;
    enum rig_plan_status status;
    if (argc != 4 || (text = whole(argv[1], &length)) == NULL)
        return 2;
    begin_us = (uint32_t)strtoul(argv[3], NULL, 10);
    status = rig_plan_parse(&plan, text, length, RIG_CEILING_E4);
    printf("status %d line %u rows %d ceiling %d torque %.4f settled %.3f lead %.3f\n", (int)status,
           plan.line, plan.row_count, plan.ceiling_e4, RIG_TORQUE_LIMIT_N_M, RIG_SETTLED_WITHIN_DEG,
           leads[0].lead_ms);
    if (status != RIG_PLAN_OK)
        return 0;
    encoders = fopen(argv[2], "r");
    if (encoders == NULL || fgets(line, sizeof line, encoders) == NULL)
        return 2;
    rig_follower_begin(&follower, &plan, begin_us);
    /* The record ends with the run; what has stopped then stands still for a while. */
    while (fgets(line, sizeof line, encoders) != NULL || held++ < 20) {
        static const char faces[RIG_FACES] = {'U', 'R', 'F', 'D', 'L', 'B'};
        int32_t mdeg[RIG_FACES];
        uint32_t now_us;
        enum rig_next next;
        int i;
        if (held > 0)
            ms += 0.5;
        else if (sscanf(line, "%lf,%lf,%lf,%lf,%lf,%lf,%lf", &ms, &deg[0], &deg[1], &deg[2],
                        &deg[3], &deg[4], &deg[5])
                 != 7)
            return 2;
        for (i = 0; i < RIG_FACES; i++)
            mdeg[i] = (int32_t)(deg[i] * 1e3 + (deg[i] < 0 ? -0.5 : 0.5));
        now_us = begin_us + (uint32_t)(ms * 1e3 + 0.5);
        while ((next = rig_follower_tick(&follower, now_us, mdeg)) == RIG_START)
            printf("start %d %c %d %.3f\n", follower.row->beat, faces[follower.row->face],
                   follower.row->quarters, ms);
        if (next == RIG_DONE || next == RIG_STOP) {
            printf("%s %.3f\n", next == RIG_DONE ? "done" : "stop", ms);
            return 0;
        }
    }
    printf("waiting\n");
    return 0;
}
